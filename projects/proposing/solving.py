"""From what was gathered to a proposal, by the allotment of `stash.calc.allot`."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

from projects.proposing.gathering import Gathered, Party, Wanted
from projects.proposing.proposal import Proof, Proposal, Short, of_shade
from projects.proposing.run_desk import Cancelled
from projects.proposing.settling import settled
from projects.proposing.shares import line_of
from stash.calc.allot import (
    Allotment,
    Asked,
    Package,
    Progress,
    Stop,
    allot,
)

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
    asked, packages = asked_of(gathered), packages_of(gathered)
    found = allot(asked, packages, deadline_s=deadline_s, told=told)
    if unwanted:
        raise unwanted[0]
    return proposal_of(gathered, found, asked, packages, time.monotonic() - begun)


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
        held=tuple(line_of(part) for part in held if gathered.cones[part.cone_id].usable),
    )


def packages_of(gathered: Gathered) -> list[Package]:
    wanted = {one.shade_id for party in gathered.parties for one in party.wanted}
    return [
        Package(cone.id, cone.shade_id, cone.lot_id, cone.open_mg)
        for cone in gathered.cones.values()
        if cone.usable and cone.shade_id in wanted
    ]


def proposal_of(
    gathered: Gathered, found: Allotment, asked: Sequence[Asked], packages: Sequence[Package], seconds: float
) -> Proposal:
    proof = Proof(
        fallback=found.fallback,
        stopped=found.stopped,
        packed=sum(report.way == "fallback" for report in found.reports),
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
    return Proposal(gathered, settled(gathered, found, asked, packages), proof, short)
