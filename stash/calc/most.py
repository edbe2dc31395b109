"""Most pieces: how far the free stock goes, which shade stops the next piece, and by how much."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from stash.calc.grist import Grist
from stash.calc.needs import work_out
from stash.calc.packing import ConeStock, Need, Packing, pack
from stash.calc.plan import MOST_PIECES, Plan
from stash.calc.warp import LONGEST_WARP_UM, length_for


@dataclass(frozen=True, slots=True)
class Stock:
    """The cones of one shade, all of one grist."""

    grist: Grist
    cones: Sequence[ConeStock]


@dataclass(frozen=True, slots=True)
class Stop:
    """What one shade misses at one piece more than is possible."""

    key: str
    missing_ends: int
    missing_warp_um: int
    missing_weft_um: int

    @property
    def missing_um(self) -> int:
        return self.missing_warp_um + self.missing_weft_um


@dataclass(frozen=True, slots=True)
class Most:
    pieces: int
    stops: tuple[Stop, ...]
    """Every shade that stops the next piece, the one that misses most first; none where stock is no limit."""

    @property
    def stopping_key(self) -> str | None:
        return self.stops[0].key if self.stops else None

    @property
    def missing_ends(self) -> int:
        return self.stops[0].missing_ends if self.stops else 0

    @property
    def missing_warp_um(self) -> int:
        return self.stops[0].missing_warp_um if self.stops else 0

    @property
    def missing_weft_um(self) -> int:
        return self.stops[0].missing_weft_um if self.stops else 0


NO_STOCK = Stock(Grist(1, 1), ())


def most_pieces(plan: Plan, stock: Mapping[str, Stock]) -> Most:
    """The most pieces of the plan whose bare need the stock serves, with the warp made as long as they need.

    A shade that `stock` does not name has none. Each shade is tried first at what the shades before it left
    possible, and only searched by halves below that where it fails.
    """
    needs = [shade.need for shade in work_out(plan).needs]
    warps = _Memo(lambda pieces: length_for(plan, pieces).warp_um)

    def packed(need: Need, pieces: int) -> Packing:
        shelf = stock.get(need.key, NO_STOCK)
        return pack(need, warps[pieces], pieces, plan.keep_back, shelf.grist, shelf.cones, buffered=False)

    def serves(need: Need) -> Callable[[int], bool]:
        return lambda pieces: packed(need, pieces).complete

    limit = _greatest(lambda pieces: warps[pieces] < LONGEST_WARP_UM, plan.pieces, MOST_PIECES)
    possible = limit
    for need in needs:
        possible = _greatest(serves(need), plan.pieces, possible)
    if possible == limit:
        return Most(possible, ())
    stops = []
    for need in needs:
        next_one = packed(need, possible + 1)
        if not next_one.complete:
            warp_um = next_one.ends_missing * warps[possible + 1]
            stops.append(Stop(need.key, next_one.ends_missing, warp_um, next_one.weft_missing_um))
    return Most(possible, tuple(sorted(stops, key=lambda stop: -stop.missing_um)))


class _Memo(dict[int, int]):
    """Warp length by number of pieces, reckoned once: every shade asks for the same few."""

    def __init__(self, reckon: Callable[[int], int]) -> None:
        self.reckon = reckon

    def __missing__(self, pieces: int) -> int:
        self[pieces] = self.reckon(pieces)
        return self[pieces]


def _greatest(holds: Callable[[int], bool], first_try: int, most: int) -> int:
    """The greatest number from 0 to `most` for which `holds` is true, given that it stays false once false.

    Tries `most`, then the number that is planned (so that this answer and the plan's verdict agree), then
    halves. 0 is never asked.
    """
    if most == 0 or holds(most):
        return most
    low, high = 0, most
    middle = first_try if 0 < first_try < most else most // 2
    while high - low > 1:
        if holds(middle):
            low = middle
        else:
            high = middle
        middle = (low + high) // 2
    return low
