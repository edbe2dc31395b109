"""A reservation of a later project that could move: what it gives, and what that project would then lack.

Yarn of others is taken for the plan itself, never for its buffer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from stash.calc.grist import Grist
from stash.calc.most import NO_STOCK, Stock
from stash.calc.packing import ConeStock, Line, Need, Proposal, pack, propose
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


def lines_with(demand: Demand, shelf: Stock, held: Mapping[int, int]) -> tuple[Line, ...]:
    """What a plan takes of one shade if it may have `held` (mg by cone) as well: its usual proposal where that is
    complete without it, else the bare need with it."""
    alone = demand.proposed(shelf.cones)
    if alone.complete:
        return alone.lines
    both = _freed(shelf, held)
    return pack(
        demand.need, demand.warp_um, demand.pieces, demand.keep_back, demand.grist, both.cones, buffered=False
    ).lines


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
        taken: dict[int, int] = {}
        for line in lines_with(own, shelf, held):
            taken[line.cone_id] = taken.get(line.cone_id, 0) + line.mass_mg
        free = {cone.id: cone.free_mg for cone in shelf.cones}
        given = {cone: max(0, mass - free.get(cone, 0)) for cone, mass in taken.items()}
        if not any(given.values()):
            continue
        stock[key] = _freed(shelf, given)
        after = own.judged(stock[key].cones)
        if (after.state, -after.short_um) <= (verdicts[key].state, -verdicts[key].short_um):
            continue
        verdicts[key] = after
        moved[key] = sum(given.values())
        if key in other.demands:
            demand = other.demands[key]
            both = _freed(shelf, held)
            own_before = [ConeStock(c.id, c.lot, c.free_mg) for c in both.cones]
            own_after = [ConeStock(c.id, c.lot, max(0, c.free_mg - taken.get(c.id, 0))) for c in both.cones]
            lost.append(Lost(key, demand.judged(own_before), demand.judged(own_after)))
    if not moved:
        return None
    return Moving(before, replace(before, stock=stock, verdicts=verdicts), other.claim_id, moved, tuple(lost))


def _freed(shelf: Stock, held: Mapping[int, int]) -> Stock:
    return Stock(
        shelf.grist,
        [ConeStock(cone.id, cone.lot, cone.free_mg + held.get(cone.id, 0)) for cone in shelf.cones],
    )
