"""A proposal, or a part of it, as the check of `stash.calc.allot` takes it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from projects.proposing.gathering import Gathered, Part, Party, ShelfCone, Wanted
from projects.proposing.proposal import of_shade
from stash.calc.allot import Allotment, Lacking, ProjectShare, ShadeShare
from stash.calc.packing import Line


def allotment_of(
    gathered: Gathered,
    given: Mapping[int, Sequence[Part]],
    short: Collection[int],
    shade_id: int | None = None,
) -> Allotment:
    """Of all shades, or of one alone: then of those who want it. `short` are the projects that are not served."""
    found = []
    for party in gathered.parties:
        wanted = [one for one in party.wanted if shade_id in (None, one.shade_id)]
        if wanted or shade_id is None:
            parts = tuple(given.get(party.pk, ()))
            shares = tuple(_share(party, one, parts, gathered.cones) for one in wanted)
            if party.pk in short:
                lacking = tuple(Lacking(one.shade_id, one.key, "time") for one in wanted[:1])
                found.append(ProjectShare(party.pk, "short", shares, lacking))
            else:
                found.append(ProjectShare(party.pk, "served", shares))
    return Allotment(tuple(found), ())


def _share(
    party: Party, wanted: Wanted, given: tuple[Part, ...], cones: Mapping[int, ShelfCone]
) -> ShadeShare:
    parts = of_shade(given, wanted.shade_id, cones)
    return ShadeShare(
        project_id=party.pk,
        shade_id=wanted.shade_id,
        key=wanted.key,
        lines=tuple(line_of(part) for part in parts),
        buffered=sums(parts) == buffered_sums(wanted),
        changed=parts != of_shade(party.held, wanted.shade_id, cones),
        warp_lots=_lots([part for part in parts if part.ends], cones),
        weft_lots=_lots([part for part in parts if not part.ends], cones),
    )


def _lots(parts: Sequence[Part], cones: Mapping[int, ShelfCone]) -> tuple[int | None, ...]:
    """A lot that is not known is one of its own, cone by cone."""
    found = {}
    for part in parts:
        lot = cones[part.cone_id].lot_id
        found[(lot, 0) if lot is not None else (None, part.cone_id)] = lot
    return tuple(found.values())


def sums(parts: Sequence[Part]) -> tuple[int, int]:
    """Ends, and um of weft."""
    return sum(part.ends for part in parts), sum(part.length_um for part in parts if not part.ends)


def buffered_sums(wanted: Wanted) -> tuple[int, int]:
    need = wanted.demand.need
    return need.ends_buffered, need.weft_um(wanted.demand.pieces, buffered=True)


def line_of(part: Part) -> Line:
    return Line(part.cone_id, "warp" if part.ends else "weft", part.ends, part.length_um, part.mass_mg)
