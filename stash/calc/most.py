"""Most pieces: how far the free stock goes, which shade stops the next piece, and by how much."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from stash.calc.grist import Grist
from stash.calc.needs import work_out
from stash.calc.packing import ConeStock, Need, pack, serves
from stash.calc.plan import MOST_PIECES, Plan
from stash.calc.warp import LONGEST_WARP_UM, warp_um_by_pieces


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
    """From one warp; a plan of several like warps gives as many from each."""
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

    A shade that `stock` does not name has none. Each shade is tried at what the shades before it left possible,
    and searched by halves below that only where it fails. Several lots can make one number of pieces come out
    where a smaller one did not, so all shades are asked again until none lowers the answer.
    """
    needs = [shade.need for shade in work_out(plan).needs]
    beams = {beam: _Memo(warp_um_by_pieces(plan, beam)) for beam in (1, *(one.number for one in plan.beams))}
    like = plan.warps

    def enough_of(need: Need) -> Callable[[int], bool]:
        shelf, warps = stock.get(need.key, NO_STOCK), beams[plan.beam_of(need.key)]
        return lambda pieces: serves(
            need, warps[pieces], like * pieces, plan.keep_back, shelf.grist, shelf.cones
        )

    def windable(pieces: int) -> bool:
        return all(warps[pieces] < LONGEST_WARP_UM for warps in beams.values())

    limit = _greatest(windable, plan.pieces, MOST_PIECES)
    possible, asked = limit, 0
    while possible != asked:
        asked = possible
        for need in needs:
            possible = _greatest(enough_of(need), plan.pieces, possible)
    if possible == limit:
        return Most(possible, ())
    stops = []
    for need in needs:
        shelf, warp_um = stock.get(need.key, NO_STOCK), beams[plan.beam_of(need.key)][possible + 1]
        packing = pack(
            need, warp_um, like * (possible + 1), plan.keep_back, shelf.grist, shelf.cones, buffered=False
        )
        if not packing.complete:
            missing_warp_um = packing.ends_missing * warp_um
            stops.append(Stop(need.key, packing.ends_missing, missing_warp_um, packing.weft_missing_um))
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

    Asks first for the number that is planned, so that this answer and the plan's verdict agree, then for `most`,
    then halves what lies between. 0 is never asked.
    """
    low, high = 0, most + 1
    for number in (min(first_try, most), most):
        if low < number < high:
            if holds(number):
                low = number
            else:
                high = number
    while high - low > 1:
        middle = (low + high) // 2
        if holds(middle):
            low = middle
        else:
            high = middle
    return low
