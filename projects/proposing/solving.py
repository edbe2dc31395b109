"""From what was gathered to a proposal, by the allotment of `stash.calc.allot`."""

from __future__ import annotations

import time
from collections.abc import Callable

from projects.proposing.gathering import Gathered, Part, Party, Wanted
from projects.proposing.proposal import Proof, Proposal, Short, of_shade
from projects.proposing.run_desk import Cancelled
from stash.calc.allot import (
    Allotment,
    Asked,
    Lacking,
    Package,
    Progress,
    ProjectShare,
    ShadeShare,
    Stop,
    allot,
)
from stash.calc.packing import Line

DEADLINE_S = 30.0
"""After so long what was found by then is proposed."""

Tell = Callable[[str, int, int], None]
"""Words, how much is done, of how much. Raises Cancelled where nobody wants the proposal any more."""

_WORDS = {
    "serving": "Who can be served is worked out, who needs yarn first before the others.",
    "sharing": "The cones are shared out, shade by shade, so that least is left over.",
}


def solve(gathered: Gathered, tell: Tell, *, deadline_s: float = DEADLINE_S) -> Proposal:
    """Raises Cancelled."""
    unwanted: list[Cancelled] = []

    def told(progress: Progress) -> None:
        try:
            tell(_WORDS[progress.stage], progress.done, progress.of)
        except Cancelled as error:
            unwanted.append(error)
            raise Stop from error

    begun = time.monotonic()
    found = allot(asked_of(gathered), packages_of(gathered), deadline_s=deadline_s, told=told)
    if unwanted:
        raise unwanted[0]
    return proposal_of(gathered, found, time.monotonic() - begun)


def asked_of(gathered: Gathered) -> list[Asked]:
    """What the projects that may move ask; of what they hold, only what may be shared out."""
    return [_asked(gathered, party, wanted) for party in gathered.parties for wanted in party.wanted]


def _asked(gathered: Gathered, party: Party, wanted: Wanted) -> Asked:
    demand = wanted.demand
    held = of_shade(party.held, wanted.shade_id, gathered.cones)
    return Asked(
        project_id=party.pk,
        shade_id=wanted.shade_id,
        need=demand.need,
        warp_um=demand.warp_um,
        pieces=demand.pieces,
        keep_back=demand.keep_back,
        grist=demand.grist,
        need_on=party.need_on,
        rank=party.rank,
        at_once=wanted.packages,
        held=tuple(_line(part) for part in held if gathered.cones[part.cone_id].usable),
    )


def packages_of(gathered: Gathered) -> list[Package]:
    wanted = {one.shade_id for party in gathered.parties for one in party.wanted}
    return [
        Package(cone.id, cone.shade_id, cone.lot_id, cone.open_mg)
        for cone in gathered.cones.values()
        if cone.usable and cone.shade_id in wanted
    ]


def allotment_of(proposal: Proposal) -> Allotment:
    """The proposal as the check takes it: what it started from must be asked and packed anew for that."""
    return Allotment(tuple(_project_share(proposal, party) for party in proposal.gathered.parties), ())


def _project_share(proposal: Proposal, party: Party) -> ProjectShare:
    short = tuple(Lacking(one.shade_id, "", "time", one.before) for one in proposal.short.get(party.pk, ()))
    shades = tuple(_shade_share(proposal, party, wanted) for wanted in party.wanted)
    return ProjectShare(party.pk, "short" if short else "served", shades, short)


def _shade_share(proposal: Proposal, party: Party, wanted: Wanted) -> ShadeShare:
    cones = proposal.gathered.cones
    parts = of_shade(proposal.given[party.pk], wanted.shade_id, cones)
    need, pieces = wanted.demand.need, wanted.demand.pieces
    held = of_shade(party.held, wanted.shade_id, cones)
    weft_um = sum(part.length_um for part in parts if not part.ends)
    buffered = (sum(part.ends for part in parts), weft_um) == (
        need.ends_buffered,
        need.weft_um(pieces, buffered=True),
    )
    lots = [
        {
            (cones[part.cone_id].lot_id, part.cone_id if cones[part.cone_id].lot_id is None else 0)
            for part in use
        }
        for use in ([part for part in parts if part.ends], [part for part in parts if not part.ends])
    ]
    warp, weft = (tuple(lot for lot, _ in found) for found in lots)
    lines = tuple(_line(part) for part in parts)
    return ShadeShare(party.pk, wanted.shade_id, wanted.key, lines, buffered, parts != held, warp, weft)


def _line(part: Part) -> Line:
    return Line(part.cone_id, "warp" if part.ends else "weft", part.ends, part.length_um, part.mass_mg)


def proposal_of(gathered: Gathered, found: Allotment, seconds: float) -> Proposal:
    given: dict[int, list[Part]] = {party.pk: [] for party in gathered.parties}
    for share in found.shares:
        given[share.project_id] += [
            Part(line.cone_id, line.use, line.ends, line.length_um, line.mass_mg) for line in share.lines
        ]
    proof = Proof(
        fallback=found.fallback,
        stopped=found.stopped,
        served_proven=found.served_proven,
        lots_proven=found.lots_proven,
        gap_ppm=-int(-found.stub_gap * 1_000_000 // 1),
        contested=sum(report.way != "proposals" for report in found.reports),
        seconds=seconds,
    )
    short = {
        project.project_id: tuple(
            Short(one.shade_id, one.cause, tuple(one.before)) for one in project.lacking
        )
        for project in found.projects
        if project.lacking
    }
    return Proposal(gathered, {pk: tuple(sorted(parts)) for pk, parts in given.items()}, proof, short)
