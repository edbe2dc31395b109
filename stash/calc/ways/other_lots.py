"""Odd lots: what becomes possible if lots may stand beside each other, and how to keep them apart.

From the safest to the riskiest (common practice): the warp of one lot and the weft of another, which packing does by
itself; a lot to a piece; a change where the neighbour changes, at a block or a stripe. Never in plain ground.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from stash.calc.most import Stock
from stash.calc.packing import ConeStock
from stash.calc.verdict import ShadeVerdict, Verdict, worst
from stash.calc.ways.search import greatest
from stash.calc.ways.tried import Tried, Way, try_plan


@dataclass(frozen=True, slots=True)
class LotInsidePiece(Way):
    """The weft of these shades changes its lot inside a piece."""

    keys: tuple[str, ...]
    pieces: int
    """In how many pieces, of the shade with most such pieces."""


@dataclass(frozen=True, slots=True)
class TwoWarps(Way):
    """A warp to a lot. `after` is the first of the two warps, `second` the other, of what the first leaves."""

    second: Tried
    keys: tuple[str, ...]
    """Shades whose lots are kept apart so."""
    more_um: int
    """How much longer the two warps are than the one, for each end."""


def lot_inside_piece(before: Tried) -> LotInsidePiece | None:
    """Where the weft is there and only its lots are in the way; None where that cures no shade that is short."""
    verdicts: dict[str, ShadeVerdict] = dict(before.verdicts)
    keys: list[str] = []
    pieces = 0
    for found in before.short:
        packing = found.proposal.packing
        cut = sum(line.length_um for line in packing.lines if line.use == "warp")
        if found.short_ends or found.free_um - cut < found.need.weft_um(before.all_pieces):
            continue
        keys.append(found.key)
        pieces = max(pieces, before.all_pieces - packing.pieces_served)
        verdicts[found.key] = replace(
            found, state=Verdict.TIGHT, short_weft_um=0, short_weft_new_lot_um=0, short_mass_mg=0
        )
    if not keys:
        return None
    return LotInsidePiece(before, replace(before, verdicts=verdicts), tuple(keys), pieces)


def two_warps(before: Tried) -> TwoWarps | None:
    """Some pieces on a warp of one lot, the others on one of another: no piece mixes lots. The waste is lost twice.

    None unless the warp of a shade mixes lots now and two warps keep them apart with nothing short.
    """
    if not before.mixed or before.plan.pieces < 2:
        return None
    keys = tuple(found.key for found in before.mixed)
    stock = {**before.stock, **{key: _of_one_lot(before.stock[key], before.verdicts[key]) for key in keys}}

    def tried(pieces: int, of: Mapping[str, Stock]) -> Tried:
        return try_plan(replace(before.plan, pieces=pieces), of, before.usable_um)

    first = greatest(lambda pieces: _whole(tried(pieces, stock)), before.plan.pieces - 1)
    if not first:
        return None
    one = tried(first, stock)
    other = tried(before.plan.pieces - first, _left(before.stock, one))
    if not _whole(other):
        return None
    more = one.worked.length.warp_um + other.worked.length.warp_um - before.worked.length.warp_um
    return TwoWarps(before, one, other, keys, more)


def _whole(tried: Tried) -> bool:
    return worst(tried.verdicts.values()) != Verdict.SHORT and not tried.mixed


def _of_one_lot(shelf: Stock, found: ShadeVerdict) -> Stock:
    """The cones of the lot that gives most ends, which is also the lot that can have most pieces to itself."""
    best = max(found.proposal.packing.lot_ends, key=lambda lot: lot.ends)
    ids = set(best.cone_ids)
    return Stock(shelf.grist, [cone for cone in shelf.cones if cone.id in ids])


def _left(stock: Mapping[str, Stock], taken: Tried) -> dict[str, Stock]:
    """What is free when a plan has taken what it needs."""
    left = {}
    for key, shelf in stock.items():
        gone: dict[int, int] = {}
        if key in taken.verdicts:
            for line in taken.verdicts[key].proposal.lines:
                gone[line.cone_id] = gone.get(line.cone_id, 0) + line.mass_mg
        left[key] = Stock(
            shelf.grist,
            [
                ConeStock(cone.id, cone.lot, max(0, cone.free_mg - gone.get(cone.id, 0)))
                for cone in shelf.cones
            ],
        )
    return left
