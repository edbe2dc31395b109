"""The chance itself: what is common to all cones integrated, what is each cone's own summed over a lattice of cases.

See `sureness` for what is asked, and of what it is made up.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from math import cos, erfc, exp, inf, log, pi, sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING

from stash.calc.grist import Grist

if TYPE_CHECKING:
    from stash.calc.sureness import Doubts, LotAsk

FAR = 7.0
"""So many standard deviations are taken for all there is: beyond lies one case in 400,000 million."""
NODES = 10
NORMAL = NormalDist()


def chance_of(
    asks: Sequence[LotAsk], warp_um: int, keep_back: int, grist: Grist, doubts: Doubts, number: int
) -> float:
    """From 0 to 1, summed over `number` cases of what the cones hold."""
    um_per_mg = float(grist.um_per_mg)
    own = [[cone.own_mg * um_per_mg for cone in ask.cones] for ask in asks]
    known = [[cone.free_mg * um_per_mg for cone in ask.cones] for ask in asks]
    common = _Common(asks, warp_um, keep_back, doubts)
    if common.chance(_moved(known, own, -FAR)) > 1 - 1e-6:
        return 1.0
    if common.chance(_moved(known, own, FAR)) < 1e-6:
        return 0.0
    unsure = [spread for spreads in own for spread in spreads if spread]
    if not unsure:
        return common.chance(known)
    total = 0.0
    for case in _cases(len(unsure), number):
        at = iter(case)
        total += common.chance(
            [
                [
                    max(0.0, length + spread * next(at)) if spread else length
                    for length, spread in zip(*pair, strict=True)
                ]
                for pair in zip(known, own, strict=True)
            ]
        )
    return total / number


def _moved(known: list[list[float]], own: list[list[float]], by: float) -> list[list[float]]:
    return [
        [max(0.0, length + by * spread) for length, spread in zip(*pair, strict=True)]
        for pair in zip(known, own, strict=True)
    ]


class _Common:
    """The chance over what is common, for cones of known true length before the count is doubted.

    With e^a the true length per weight, e^t that of an end and e^p the weft, each as a share of what is reckoned with, and
    r = a - t: the cones give the ends if sum(floor(length e^r / warp)) suffices, which holds from some r on. The weft of
    a lot suffices if (lengths e^r - ends x warp) e^t >= weft e^p. Given r, t - p is normal: one integral over r is left.
    """

    def __init__(self, asks: Sequence[LotAsk], warp_um: int, keep_back: int, doubts: Doubts) -> None:
        self.warp, self.keep_back = warp_um * doubts.taken, keep_back
        self.ends = sum(ask.ends for ask in asks)
        self.warped = [bool(ask.ends) for ask in asks]
        self.wefts = [float(ask.weft_um) * doubts.taken for ask in asks]
        self.mixes = sum(self.warped) > 1
        self.count, self.picks = doubts.count**2, doubts.picks**2
        take_up = doubts.take_up**2
        self.spread = sqrt(self.count + take_up)
        self.slope = -take_up / (self.count + take_up) if self.spread else 0.0
        within = self.count * take_up / (self.count + take_up) if self.spread else 0.0
        self.rest = sqrt(within + self.picks)

    def chance(self, lots: Sequence[Sequence[float]]) -> float:
        if any(weft and sum(lengths) <= 0 for lengths, weft in zip(lots, self.wefts, strict=True)):
            return 0.0
        least = -inf
        if self.ends:
            cones = [
                length
                for lengths, warped in zip(lots, self.warped, strict=True)
                if warped
                for length in lengths
            ]
            if sum(cones) <= 0:
                return 0.0
            least = self._least_for_ends(cones, self.ends, self.warp)
            if least == inf:
                return 0.0
        weft = _Wefts(self, lots)
        if not self.spread:
            return self._weft(0.0, weft) if least <= 0 else 0.0
        if not weft:
            return _above(least / self.spread)
        if least == -inf:
            # No warp is cut from these cones, so that lengths and weft are independent.
            wanted = -log(weft.most(0.0))
            spread = sqrt(self.count + self.picks)
            return _above(wanted / spread) if spread else float(wanted <= 1e-12)
        if not self.rest:
            # The weft, too, suffices from some r on.
            return _above(max(least, weft.least(least, FAR * self.spread)) / self.spread)
        return self._integral(max(least / self.spread, -FAR), weft)

    def _least_for_ends(self, lengths: Sequence[float], ends: int, warp: float) -> float:
        """The least r with which the cones give so many whole ends."""
        keep, total = self.keep_back, sum(lengths)
        low = log(ends * warp / total)
        high = log((ends + len(lengths) * (keep + 1)) * warp / total)
        # All but one cone may be too small for an end: the greatest alone then must give them all.
        high = min(high, log((ends + keep) * warp / max(lengths)))
        if not self.spread:
            return 0.0 if self._ends(lengths, warp) >= ends else inf
        if len(lengths) == 1:
            return high
        while high - low > 1e-5 * self.spread:
            middle = (low + high) / 2
            if self._ends(lengths, warp / exp(middle)) >= ends:
                high = middle
            else:
                low = middle
        return high

    def _ends(self, lengths: Sequence[float], warp: float) -> int:
        if not self.keep_back:
            return sum([int(length / warp + 1e-9) for length in lengths])
        return sum([max(0, int(length / warp + 1e-9) - self.keep_back) for length in lengths])

    def whole_ends(self, lengths: Sequence[float], r: float) -> int:
        return self._ends(lengths, self.warp / exp(r))

    def _weft(self, r: float, wefts: _Wefts) -> float:
        """The chance that the weft of every lot suffices, given r."""
        most = wefts.most(r) if wefts else inf
        if most <= 0:
            return 0.0
        wanted, middle = -log(most) if most < inf else -inf, self.slope * r
        if not self.rest:
            return float(middle >= wanted - 1e-12)
        return _above((wanted - middle) / self.rest)

    def _integral(self, low: float, wefts: _Wefts) -> float:
        """Over r in standard deviations from `low` on, in stretches on which few nodes do: cut where the weft turns from
        never to always."""
        if low >= FAR:
            return 0.0
        turn, wide = wefts.turn() / self.spread, min(3.0, 4 * self.rest / self.spread)
        cuts = (-3.0, 0.0, 3.0, turn - wide, turn, turn + wide)
        stops = [low, *sorted(cut for cut in cuts if low < cut < FAR), FAR]
        total = 0.0
        for start, stop in pairwise(stops):
            half, middle = (stop - start) / 2, (stop + start) / 2
            for node, weight in _legendre():
                at = middle + half * node
                total += half * weight * exp(-at * at / 2) * self._weft(self.spread * at, wefts)
        return min(1.0, total / sqrt(2 * pi))


class _Wefts:
    """What the lots have left for their weft, once the ends are cut from those that are warped."""

    def __init__(self, common: _Common, lots: Sequence[Sequence[float]]) -> None:
        self.common = common
        self.alone: list[tuple[float, float, float]] = []
        """(length, what the ends take of it, weft) of lots from which the ends that are cut are known."""
        self.mixed: list[tuple[Sequence[float], float, float]] = []
        """(cones, length, weft) of lots that share the ends, if any of them gives weft."""
        for lengths, warped, weft in zip(lots, common.warped, common.wefts, strict=True):
            if warped and common.mixes:
                self.mixed.append((lengths, sum(lengths), weft))
            elif weft:
                self.alone.append((sum(lengths), common.ends * common.warp if warped else 0.0, weft))
        if not any(weft for _, _, weft in self.mixed):
            self.mixed = []

    def __bool__(self) -> bool:
        return bool(self.alone or self.mixed)

    def most(self, r: float) -> float:
        """How many times its weft the scarcest lot could give, given r; 0 or less where it could give none."""
        stretch = exp(r)
        if not self.mixed and len(self.alone) == 1:  # by far the most usual, and asked thousands of times
            ((length, cut, weft),) = self.alone
            return (length * stretch - cut) / weft
        found = min(((length * stretch - cut) / weft for length, cut, weft in self.alone), default=inf)
        return min(found, self._most_of_mixed(r, stretch)) if self.mixed else found

    def _most_of_mixed(self, r: float, stretch: float) -> float:
        """The most x with sum(min(ends of the lot, floor((length - x weft) / warp))) >= ends: lot by lot more of its
        ends give way to its weft, the scarcest first; then back to whole ends."""
        common, most = self.common, inf
        warp, wanted = common.warp, float(common.ends)
        lots = []
        for cones, total, weft in self.mixed:
            ends, length = common.whole_ends(cones, r), total * stretch
            wanted -= ends
            if weft:
                most = min(most, length / weft)
                lots.append(((length - ends * warp) / weft, length, weft, ends))
        if wanted > 0:
            return 0.0
        lots.sort()
        lengths = wefts = x = 0.0
        still = wanted
        for at, (_, length, weft, ends) in enumerate(lots):
            still += ends
            lengths, wefts = lengths + length, wefts + weft
            x = (lengths - still * warp) / wefts
            if at + 1 == len(lots) or x <= lots[at + 1][0]:
                break
        given = [min(ends, int((length - x * weft) / warp)) for _, length, weft, ends in lots]
        lacking = wanted + sum(lot[3] for lot in lots) - sum(given)
        while lacking > 0:
            x, at = max(
                ((length - (given[at] + 1) * warp) / weft, at)
                for at, (_, length, weft, ends) in enumerate(lots)
                if given[at] < ends
            )
            given[at] += 1
            lacking -= 1
        return min(most, x)

    def least(self, low: float, high: float) -> float:
        """The least r with which every lot gives its weft."""
        if self.most(high) < 1:
            return inf
        low = max(low, -high)
        if self.most(low) >= 1:
            return low
        while high - low > 1e-5 * self.common.spread:
            middle = (low + high) / 2
            if self.most(middle) >= 1:
                high = middle
            else:
                low = middle
        return high

    def turn(self) -> float:
        """About which r the scarcest weft is as likely as not to suffice."""
        lots = list(self.alone)
        if self.mixed:
            length, weft = sum(one[1] for one in self.mixed), sum(one[2] for one in self.mixed)
            lots.append((length, self.common.ends * self.common.warp, weft))
        return max(log((cut + weft) / length) for length, cut, weft in lots)


def _above(value: float) -> float:
    """The chance that a standard normal value is above this one."""
    return 0.5 * erfc(value / sqrt(2))


@lru_cache(maxsize=32)
def _cases(cones: int, number: int) -> tuple[tuple[float, ...], ...]:
    """So many equally likely cases of independent standard normal values: a lattice of the additive recurrence
    whose steps are the powers of the root of x^(d+1) = x + 1, with the mirror of each case."""
    root = 2.0
    for _ in range(60):
        root = (1 + root) ** (1 / (cones + 1))
    steps = [root ** -(place + 1) for place in range(cones)]
    cases = []
    for at in range(number // 2):
        case = tuple(
            NORMAL.inv_cdf(min(1 - 1e-9, max(1e-9, (0.5 + (at + 0.5) * step) % 1))) for step in steps
        )
        cases += [case, tuple(-value for value in case)]
    return tuple(cases)


@lru_cache(maxsize=1)
def _legendre() -> tuple[tuple[float, float], ...]:
    """Nodes and weights of Gauss and Legendre on -1 to 1, by Newton's method (Abramowitz and Stegun, Handbook of
    Mathematical Functions, 1964, 25.4.29; from memory)."""
    found = []
    for at in range(NODES):
        x = cos(pi * (at + 0.75) / (NODES + 0.5))
        slope = 1.0
        for _ in range(100):
            before, value = 1.0, x
            for degree in range(2, NODES + 1):
                before, value = value, ((2 * degree - 1) * x * value - (degree - 1) * before) / degree
            slope = NODES * (x * value - before) / (x * x - 1)
            step = value / slope
            x -= step
            if abs(step) < 1e-15:
                break
        found.append((x, 2 / ((1 - x * x) * slope * slope)))
    return tuple(found)
