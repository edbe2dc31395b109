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
from math import floor, sqrt

from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need, Proposal
from stash.calc.sureness_chance import chance_of

CASES = ((0.05, 32), (0.3, 64), (1.0, 128))
"""Equally likely cases of what the cones truly hold, by the most that scale and core may have of all doubt. Against 200,000
drawn at random the answer of every case of the tests differs by less than 0.01."""

ODDS = (
    (0.99, "99 in 100"),
    (0.95, "19 in 20"),
    (0.90, "9 in 10"),
    (0.75, "3 in 4"),
    (2 / 3, "2 in 3"),
    (0.5, "even"),
)
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
    return next((words for least, words in ODDS if chance >= least), LESS)


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
    return Sureness(chance_of(asks, warp_um, keep_back, grist, doubts, number), parts)


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
