"""What a project's own parts of one shade serve, each for the use it is put aside for.

Packing would find a use for every yard of a cone; what is reserved as warp stays warp here, and weft weft. What is kept
back for knots is beside the parts, not in them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from projects.proposing.gathering import Part, ShelfCone, Wanted
from stash.calc.lot_wish import wished
from stash.calc.packing import Need
from stash.calc.verdict import Verdict

Lot = tuple[int | None, int]
"""A lot by its key; a cone of unknown lot is one of its own, by the cone's."""


def lot_of(cone: ShelfCone) -> Lot:
    return (cone.lot_id, 0) if cone.lot_id is not None else (None, cone.id)


@dataclass(frozen=True, slots=True)
class Coverage:
    """What is short is short of the bare need."""

    state: Verdict
    short_ends: int
    short_weft_um: int
    short_um: int
    short_mass_mg: int
    warp_lots: frozenset[Lot]
    weft_lots: frozenset[Lot]

    @property
    def lots_mixed(self) -> bool:
        return len(self.warp_lots) > 1


def covers(wanted: Wanted, parts: Iterable[Part], cones: Mapping[int, ShelfCone]) -> Coverage:
    """The best of the groups of cones that the wish for lots allows together."""
    need = wanted.demand.need
    parts = list(parts)
    on = [_OfALot(part, cones[part.cone_id].lot_id) for part in parts]
    groups = wished(need.wish, need.wish_lot_id, need.wish_cone_id, on)
    found = [_covers(wanted, [one.part for one in group], cones) for group in groups]
    return min(found, key=lambda one: (one.short_um, -one.state))


@dataclass(frozen=True, slots=True)
class _OfALot:
    part: Part
    lot: int | None

    @property
    def id(self) -> int:
        return self.part.cone_id


def _covers(wanted: Wanted, parts: Sequence[Part], cones: Mapping[int, ShelfCone]) -> Coverage:
    demand, need = wanted.demand, wanted.demand.need
    # Warp of another length than the plan has now is cut anew.
    ends = sum(part.length_um // demand.warp_um for part in parts if part.ends)
    weft: dict[Lot, int] = defaultdict(int)
    for part in parts:
        if not part.ends:
            weft[lot_of(cones[part.cone_id])] += part.length_um
    short_ends = max(0, need.ends - ends)
    short_weft = _weft_short(need, demand.pieces, list(weft.values()), buffered=False)
    short_um = short_ends * demand.warp_um + short_weft
    if short_um:
        state = Verdict.SHORT
    elif ends < need.ends_buffered or _weft_short(need, demand.pieces, list(weft.values()), buffered=True):
        state = Verdict.TIGHT
    else:
        state = Verdict.ENOUGH
    return Coverage(
        state=state,
        short_ends=short_ends,
        short_weft_um=short_weft,
        short_um=short_um,
        short_mass_mg=ceil(demand.grist.mass_mg_of(short_um)),
        warp_lots=frozenset(lot_of(cones[part.cone_id]) for part in parts if part.ends),
        weft_lots=frozenset(weft),
    )


def _weft_short(need: Need, pieces: int, lots: Sequence[int], *, buffered: bool) -> int:
    """Least further um that would do if more of one of the lots could be had: the lot never changes inside a piece, and
    the sample is not divided."""
    piece = need.weft_piece_buffered_um if buffered else need.weft_piece_um
    sample = need.weft_sample_buffered_um if buffered else need.weft_sample_um
    total = pieces * piece + sample
    if not total:
        return 0
    if not lots:
        return total
    found = []
    for place, held in enumerate(lots):
        rests = [length for at, length in enumerate(lots) if at != place]
        # Of this lot more is had: it gives the sample, or another does.
        found.append(max(0, _pieces_left(pieces, piece, rests) * piece + sample - held))
        for at, other in enumerate(rests) if sample else ():
            if other >= sample:
                without = [*rests[:at], other - sample, *rests[at + 1 :]]
                found.append(max(0, _pieces_left(pieces, piece, without) * piece - held))
    return min(found)


def _pieces_left(pieces: int, piece_um: int, lots: Sequence[int]) -> int:
    """Pieces that these lots do not serve whole."""
    return max(0, pieces - sum(length // piece_um for length in lots)) if piece_um else 0
