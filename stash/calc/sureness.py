"""How sure is it that the yarn suffices? The chance of it, from what is not known exactly, and what weighs in that.

What is not known exactly, as one standard deviation each:

- of each cone its own: the scale, and the core that is taken off. In mg, and independent from cone to cone;
- common to all cones and all ends: the length per weight, the length that an end truly takes (take-up), and the weft
  that the cloth truly takes (picks). As shares; what is a product of many small causes is lognormal, so that no length
  turns negative.

The lots are those of the proposal. All cones of such a lot that are free or put aside for the project help out, a
further one too; a cone of another lot does not. Warp is cut in whole ends cone by cone, less what is kept back; where
it mixes lots already, one of them gives more ends when another gives fewer. The weft of each lot stays what is proposed
from it, since the lot does not change inside a piece; it is joined from what the ends leave of the cones of that lot.

The common part is integrated exactly, but for one smooth integral by Gauss and Legendre; the cones' own part is summed
over a fixed lattice of equally likely cases (M. Roberts, The unreasonable effectiveness of quasirandom sequences, 2018;
from memory). Nothing is drawn by chance: the same figures give the same answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from math import cos, erfc, exp, floor, inf, log, pi, sqrt
from statistics import NormalDist

from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need, Proposal

CASES = ((0.05, 16), (0.3, 64), (1.0, 128))
"""Equally likely cases of what the cones truly hold, by the most that scale and core may have of all doubt. Against 200,000
drawn at random the answer of every case of the tests differs by less than 0.01."""
FAR = 7.0
"""So many standard deviations are taken for all there is: beyond lies one case in 400,000 million."""
NODES = 10
NORMAL = NormalDist()


ODDS = (
    (0.99, "99 in 100"),
    (0.95, "19 in 20"),
    (0.90, "9 in 10"),
    (0.75, "3 in 4"),
    (2 / 3, "2 in 3"),
    (0.5, "even"),
)
SLACK = 0.005
"""What the reckoning itself may be out by: so near below a step it is said to be reached."""
LESS = "less than even"


class Doubt(StrEnum):
    """What is not known exactly."""

    SCALE = "scale"
    CORE = "core"
    COUNT = "count"
    TAKE_UP = "take-up"
    PICKS = "picks"


@dataclass(frozen=True, slots=True)
class Doubts:
    """What is common to all cones and ends, each as a share (one standard deviation).

    `count`: of the length per weight; `take_up`: of the length of an end; `picks`: of the length of the weft. `taken`
    is what the plans usually turn out to take, as a share of the plan: 1 as planned. Raises CalcError.
    """

    count: float
    take_up: float
    picks: float
    taken: float = 1.0

    def __post_init__(self) -> None:
        for name in ("count", "take_up", "picks"):
            if not 0 <= getattr(self, name) <= 1:
                raise CalcError("Give how unsure it is as a share from 0 to 100 %.", field=name)
        if not 0.1 <= self.taken <= 10:
            raise CalcError("What plans usually take lies between a tenth and ten times.", field="taken")


@dataclass(frozen=True, slots=True)
class SureCone:
    """What is free of a cone, and how unsure its scale and its core make that (mg, one standard deviation)."""

    free_mg: int
    scale_mg: float = 0.0
    core_mg: float = 0.0

    def __post_init__(self) -> None:
        for name in ("free_mg", "scale_mg", "core_mg"):
            if getattr(self, name) < 0:
                raise CalcError("It cannot be below 0.", field=name)

    @property
    def own_mg(self) -> float:
        return sqrt(self.scale_mg**2 + self.core_mg**2)


@dataclass(frozen=True, slots=True)
class LotAsk:
    """What one lot is to give, without buffer, and its cones."""

    cones: tuple[SureCone, ...]
    ends: int
    weft_um: Fraction


@dataclass(frozen=True, slots=True)
class Part:
    """One of the doubts: how much it alone makes the need unsure, as a share of what is needed (one standard
    deviation), and its share of all doubt; the shares of all parts add up to 1."""

    doubt: Doubt
    spread: float
    share: float


@dataclass(frozen=True, slots=True)
class Sureness:
    chance: float
    """That the yarn suffices, from 0 to 1."""
    parts: tuple[Part, ...]
    """Those that make anything unsure, the weightiest first."""

    @property
    def spread(self) -> float:
        """All doubts together, as a share of what is needed (one standard deviation)."""
        return sqrt(sum(part.spread**2 for part in self.parts))


def odds(chance: float) -> str:
    """The chance on a small scale: the highest step that it reaches, so that it is never said to be more. Never certain."""
    return next((words for least, words in ODDS if chance >= least - SLACK), LESS)


def whole_shares(parts: Sequence[Part]) -> list[int]:
    """The parts' shares in whole hundredths that add up to 100: what rounding leaves goes to the greatest rests."""
    exact = [100 * part.share for part in parts]
    found = [floor(share) for share in exact]
    left = 100 - sum(found) if parts else 0
    for at in sorted(range(len(exact)), key=lambda place: found[place] - exact[place])[:left]:
        found[at] += 1
    return found


def asks_of(
    proposal: Proposal,
    need: Need,
    warp_um: int,
    pieces: int,
    grist: Grist,
    cones: Sequence[ConeStock],
    own: Mapping[int, tuple[float, float]],
) -> tuple[LotAsk, ...]:
    """What each lot of the proposal is to give of the bare need; () where no cone can serve.

    `cones` are what is free for the project, `own` the doubts of each (scale, core; mg) by its key. What is missing of a
    short shade is asked of the lots that are begun already, so that it stays short unless there is more than is known.
    """
    lot_of = {cone.id: _lot(cone) for cone in cones}
    ends: dict[tuple[bool, int], int] = {}
    weft: dict[tuple[bool, int], int] = {}
    for line in proposal.lines:
        asked, amount = (ends, line.ends) if line.use == "warp" else (weft, line.length_um)
        lot = lot_of[line.cone_id]
        asked[lot] = asked.get(lot, 0) + amount
    lots = list(dict.fromkeys([*ends, *weft]))
    if not lots:
        if not cones:
            return ()
        lots = [_lot(max(cones, key=lambda cone: (cone.free_mg, -cone.id)))]
    by_lot: dict[tuple[bool, int], list[SureCone]] = {lot: [] for lot in lots}
    free: dict[tuple[bool, int], int] = dict.fromkeys(lots, 0)
    for cone in cones:
        lot = lot_of[cone.id]
        if lot in by_lot:
            by_lot[lot].append(SureCone(cone.free_mg, *own.get(cone.id, (0.0, 0.0))))
            free[lot] += cone.free_mg
    _to_bare_ends(ends, need.ends, lots)
    wefts = _bare_weft(weft, need, pieces, proposal.short_weft_um > 0)
    rest = need.weft_um(pieces) - sum(wefts.values())
    if rest:
        left = {
            lot: grist.length_um_of(free[lot]) - ends.get(lot, 0) * warp_um - wefts.get(lot, 0)
            for lot in lots
        }
        most = max(lots, key=left.__getitem__)
        wefts[most] = wefts.get(most, Fraction(0)) + rest
    return tuple(LotAsk(tuple(by_lot[lot]), ends.get(lot, 0), wefts.get(lot, Fraction(0))) for lot in lots)


def _lot(cone: ConeStock) -> tuple[bool, int]:
    """A cone of unknown lot is a lot of its own."""
    return (False, cone.id) if cone.lot is None else (True, cone.lot)


def _bare_weft(
    weft: Mapping[tuple[bool, int], int], need: Need, pieces: int, short: bool
) -> dict[tuple[bool, int], Fraction]:
    """Each lot's weft less its part of the buffer. Of a short shade the whole pieces alone: a part of one is none."""
    if short:
        piece = max(1, need.weft_piece_um)
        return {
            lot: Fraction(laid // piece * piece if need.weft_piece_um else 0) for lot, laid in weft.items()
        }
    laid = sum(weft.values())
    share = Fraction(min(need.weft_um(pieces), laid), laid) if laid else Fraction(0)
    return {lot: length * share for lot, length in weft.items()}


def _to_bare_ends(ends: dict[tuple[bool, int], int], wanted: int, lots: Sequence[tuple[bool, int]]) -> None:
    """Spare ends are left out of the lots that came last; missing ones are asked of the first."""
    spare = sum(ends.values()) - wanted
    if spare < 0:
        first = next(iter(ends), lots[0])
        ends[first] = ends.get(first, 0) - spare
        return
    for lot in reversed(list(ends)):
        out = min(spare, ends[lot])
        ends[lot] -= out
        spare -= out


def sureness(asks: Sequence[LotAsk], warp_um: int, keep_back: int, grist: Grist, doubts: Doubts) -> Sureness:
    """The chance that every lot gives what it is to give; `warp_um` is the length of one end. Raises CalcError.

    Without any doubt the chance is 1 or 0, as the verdict has it; but for a warp that mixes lots and is short of weft, which
    may suffice once its ends are shared out otherwise. More yarn on any cone never makes it less.
    """
    if warp_um < 1:
        raise CalcError("The warp must be longer than nothing.", field="warp_um")
    if not asks:
        return Sureness(0.0, ())
    parts = _parts(asks, warp_um, grist, doubts)
    if not parts:
        return Sureness(float(_suffices(asks, warp_um, keep_back, grist, doubts.taken)), ())
    own = sum(part.share for part in parts if part.doubt in (Doubt.SCALE, Doubt.CORE))
    number = next(number for most, number in CASES if own <= most)
    return Sureness(_chance(asks, warp_um, keep_back, grist, doubts, number), parts)


def _suffices(asks: Sequence[LotAsk], warp_um: int, keep_back: int, grist: Grist, taken: float) -> bool:
    """As the books have it, in whole numbers where plans take what is planned."""
    more = Fraction(taken)
    warp, capable = warp_um * more, 0
    for ask in asks:
        lengths = [cone.free_mg * grist.length_um // grist.mass_mg for cone in ask.cones]
        left = sum(lengths) - ask.weft_um * more
        if left < 0:
            return False
        if ask.ends:
            ends = sum(max(0, floor(length / warp) - keep_back) for length in lengths)
            capable += min(ends, floor(left / warp))
    return capable >= sum(ask.ends for ask in asks)


def _parts(asks: Sequence[LotAsk], warp_um: int, grist: Grist, doubts: Doubts) -> tuple[Part, ...]:
    """Each doubt's part in how unsure the need is against the yarn, to the first order."""
    warp = float(sum(ask.ends for ask in asks) * warp_um)
    weft = float(sum(ask.weft_um for ask in asks))
    need = warp + weft
    if not need:
        return ()
    um_per_mg = float(grist.um_per_mg)
    cones = [cone for ask in asks for cone in ask.cones]
    spreads = {
        Doubt.SCALE: sqrt(sum(cone.scale_mg**2 for cone in cones)) * um_per_mg / need,
        Doubt.CORE: sqrt(sum(cone.core_mg**2 for cone in cones)) * um_per_mg / need,
        Doubt.COUNT: doubts.count,
        Doubt.TAKE_UP: doubts.take_up * warp / need,
        Doubt.PICKS: doubts.picks * weft / need,
    }
    total = sum(spread**2 for spread in spreads.values())
    found = [Part(doubt, spread, spread**2 / total) for doubt, spread in spreads.items() if spread]
    return tuple(sorted(found, key=lambda part: -part.share))


def _chance(
    asks: Sequence[LotAsk], warp_um: int, keep_back: int, grist: Grist, doubts: Doubts, number: int
) -> float:
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
