"""A plan held against the shelf, as it stands or as a way out would change it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stash.calc.most import NO_STOCK, Stock
from stash.calc.needs import WorkedPlan, work_out
from stash.calc.plan import Plan
from stash.calc.verdict import ShadeVerdict, Verdict, judge, worst


@dataclass(frozen=True, slots=True)
class Tried:
    """A plan worked out, the stock that it was judged by, and a verdict of every shade by its key."""

    worked: WorkedPlan
    stock: Mapping[str, Stock]
    verdicts: Mapping[str, ShadeVerdict]
    usable_um: int | None = None
    """Width in the reed that the loom takes; None where no loom is asked about."""

    @property
    def plan(self) -> Plan:
        return self.worked.plan

    @property
    def all_pieces(self) -> int:
        """Of all the plan's like warps."""
        return self.plan.warps * self.plan.pieces

    @property
    def state(self) -> Verdict:
        return worst(self.verdicts.values())

    @property
    def fits(self) -> bool:
        return self.usable_um is None or self.worked.width.in_reed_um <= self.usable_um

    @property
    def short(self) -> tuple[ShadeVerdict, ...]:
        return tuple(found for found in self.verdicts.values() if found.state == Verdict.SHORT)

    @property
    def mixed(self) -> tuple[ShadeVerdict, ...]:
        """Shades whose warp comes from more than one lot."""
        return tuple(found for found in self.verdicts.values() if found.lots_mixed)

    @property
    def short_mass_mg(self) -> int:
        """What is missing of all shades together."""
        return sum(found.short_mass_mg for found in self.short)


def try_plan(plan: Plan, stock: Mapping[str, Stock], usable_um: int | None = None) -> Tried:
    """Work the plan out and judge every shade; a shade that `stock` does not name has none. Raises CalcError."""
    return try_worked(work_out(plan), stock, usable_um)


def try_worked(worked: WorkedPlan, stock: Mapping[str, Stock], usable_um: int | None = None) -> Tried:
    """As `try_plan`, of a plan that is worked out already."""
    plan = worked.plan
    verdicts = {}
    for asked in worked.needs:
        shelf = stock.get(asked.key, NO_STOCK)
        verdicts[asked.key] = judge(
            asked.need, asked.warp_um, asked.pieces, plan.keep_back, shelf.grist, shelf.cones
        )
    return Tried(worked, stock, verdicts, usable_um)


@dataclass(frozen=True, slots=True)
class Effect:
    """What a way does to one shade: its bare need before and after in um (0: not used), and its verdict after."""

    key: str
    before_um: int
    after_um: int
    after: ShadeVerdict | None


@dataclass(frozen=True, slots=True)
class Way:
    """One way out. `before` is the plan as it stands, `after` what it comes to."""

    before: Tried
    after: Tried

    @property
    def effects(self) -> tuple[Effect, ...]:
        """Of every shade that either plan uses."""
        was = {need.key: need.total_um for need in self.before.worked.needs}
        will_be = {need.key: need.total_um for need in self.after.worked.needs}
        return tuple(
            Effect(key, was.get(key, 0), will_be.get(key, 0), self.after.verdicts.get(key))
            for key in dict.fromkeys([*was, *will_be])
        )

    @property
    def changes_plan(self) -> bool:
        """Can it be tried as a plan of its own?"""
        return self.before.plan != self.after.plan

    @property
    def cures(self) -> bool:
        """Nothing is short, the loom takes it; and where nothing was short or mixed but the buffer, that is there."""
        return cured(self.before, self.after)

    @property
    def helps(self) -> bool:
        """It cures, or leaves less missing, or makes the width fit."""
        if self.cures:
            return True
        if self.before.fits and not self.after.fits:
            return False
        return self.after.short_mass_mg < self.before.short_mass_mg or self.after.fits > self.before.fits


def cured(before: Tried, after: Tried) -> bool:
    if not after.fits or after.state == Verdict.SHORT:
        return False
    if before.state == Verdict.SHORT or not before.fits:
        return True
    if before.mixed and len(after.mixed) < len(before.mixed) and after.state >= before.state:
        return True
    return after.state > before.state
