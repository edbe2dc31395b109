"""A reservation of a later project that could move: what it gives, and what that project would then lack.

Yarn of others is taken for the plan itself, never for its buffer.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from stash.calc.grist import Grist
from stash.calc.most import NO_STOCK, Stock
from stash.calc.packing import ConeStock, Line, Need, Packing, Proposal, pack, propose
from stash.calc.verdict import ShadeVerdict, Verdict, judge
from stash.calc.ways.tried import Tried, Way


@dataclass(frozen=True, slots=True)
class Demand:
    """What a plan needs of one shade."""

    need: Need
    warp_um: int
    pieces: int
    keep_back: int
    grist: Grist

    def proposed(self, cones: Sequence[ConeStock]) -> Proposal:
        return propose(self.need, self.warp_um, self.pieces, self.keep_back, self.grist, cones)

    def judged(self, cones: Sequence[ConeStock]) -> ShadeVerdict:
        return judge(self.need, self.warp_um, self.pieces, self.keep_back, self.grist, cones)


@dataclass(frozen=True, slots=True)
class Later:
    """A claim that comes after this one: what it holds in mg by cone, and what it needs, by this plan's keys."""

    claim_id: int
    held: Mapping[str, Mapping[int, int]]
    demands: Mapping[str, Demand]


@dataclass(frozen=True, slots=True)
class Lost:
    """One shade of the project that gives."""

    key: str
    before: ShadeVerdict
    after: ShadeVerdict

    @property
    def lacks_um(self) -> int:
        """How much more it is short of than it was."""
        return max(0, self.after.short_um - self.before.short_um)


@dataclass(frozen=True, slots=True)
class Moving(Way):
    claim_id: int
    moved_mg: Mapping[str, int]
    """What changes hands, by key."""
    lost: tuple[Lost, ...]


@dataclass(frozen=True, slots=True)
class Share:
    """What a plan takes of one shade, and how much of it, in mg by cone, is what the other claim holds."""

    packing: Packing
    given: Mapping[int, int]


def share_of(demand: Demand, shelf: Stock, held: Mapping[int, int]) -> Share:
    """What a plan takes if it may have `held` (mg by cone) beside what is free: its usual proposal where that is
    complete or where `held` leaves no less missing, else the bare need with it."""
    alone = demand.proposed(shelf.cones).packing
    if alone.complete:
        return Share(alone, {})
    cones = _freed(shelf, held).cones
    both = pack(
        demand.need, demand.warp_um, demand.pieces, demand.keep_back, demand.grist, cones, buffered=False
    )
    if _missing_um(both, demand) >= _missing_um(alone, demand):
        return Share(alone, {})
    free = {cone.id: cone.free_mg for cone in shelf.cones}
    taken = taken_mg(both.lines)
    return Share(both, {id: mass - free[id] for id, mass in taken.items() if mass > free[id]})


def taken_mg(lines: Iterable[Line]) -> dict[int, int]:
    """mg by cone, warp and weft together."""
    taken: dict[int, int] = {}
    for line in lines:
        taken[line.cone_id] = taken.get(line.cone_id, 0) + line.mass_mg
    return taken


def _missing_um(packing: Packing, demand: Demand) -> int:
    return packing.ends_missing * demand.warp_um + packing.weft_missing_um


def moving(before: Tried, later: Sequence[Later]) -> list[Moving]:
    """Each later claim whose yarn makes something less short, in the order in which they are given."""
    found = []
    for other in later:
        way = _moved(before, other)
        if way is not None:
            found.append(way)
    return found


def _moved(before: Tried, other: Later) -> Moving | None:
    stock, verdicts = dict(before.stock), dict(before.verdicts)
    plan = before.plan
    moved: dict[str, int] = {}
    lost: list[Lost] = []
    for asked in before.worked.needs:
        key = asked.key
        held = other.held.get(key, {})
        if before.verdicts[key].state != Verdict.SHORT or not held:
            continue
        shelf = before.stock.get(key, NO_STOCK)
        own = Demand(asked.need, asked.warp_um, asked.pieces, plan.keep_back, shelf.grist)
        share = share_of(own, shelf, held)
        if not share.given:
            continue
        stock[key] = _freed(shelf, share.given)
        verdicts[key] = own.judged(stock[key].cones)
        moved[key] = sum(share.given.values())
        if key in other.demands:
            lost.append(_lost(key, other.demands[key], _freed(shelf, held).cones, share))
    if not moved:
        return None
    return Moving(before, replace(before, stock=stock, verdicts=verdicts), other.claim_id, moved, tuple(lost))


def _lost(key: str, demand: Demand, cones: Sequence[ConeStock], share: Share) -> Lost:
    taken = taken_mg(share.packing.lines)
    left = [ConeStock(cone.id, cone.lot, max(0, cone.free_mg - taken.get(cone.id, 0))) for cone in cones]
    return Lost(key, demand.judged(cones), demand.judged(left))


def _freed(shelf: Stock, held: Mapping[int, int]) -> Stock:
    return Stock(
        shelf.grist,
        [ConeStock(cone.id, cone.lot, cone.free_mg + held.get(cone.id, 0)) for cone in shelf.cones],
    )
