"""Fewer repeats across: a narrower piece of the same pattern."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from stash.calc.errors import CalcError
from stash.calc.fit_width import width_to_ask
from stash.calc.plan import Plan
from stash.calc.ways.search import greatest
from stash.calc.ways.tried import Tried, Way, cured, try_plan


@dataclass(frozen=True, slots=True)
class FewerRepeats(Way):
    repeats: int
    """Repeats that are left."""
    fewer: int
    finished_um: Fraction
    """Finished width that results."""


def fewer_repeats(before: Tried, step_um: int = 1) -> FewerRepeats | None:
    """As few repeats fewer as cure it; None where the order is the whole warp, or no number cures it.

    The width asked for becomes the width that results, rounded down to `step_um` where that asks for the same
    repeats.
    """
    repeats = before.worked.width.repeats
    if repeats is None or repeats < 2:
        return None

    def tried(number: int) -> Tried | None:
        plan = with_repeats(before, number, step_um)
        if plan is None:
            return None
        try:
            after = try_plan(plan, before.stock, before.usable_um)
        except CalcError:
            return None  # an accent stands beyond so narrow a pattern
        return after if after.worked.width.repeats == number else None

    def cures(number: int) -> bool:
        after = tried(number)
        return after is not None and cured(before, after)

    number = greatest(cures, repeats - 1)
    after = tried(number) if number else None
    if after is None:
        return None
    return FewerRepeats(before, after, number, repeats - number, after.worked.width.finished_um)


def with_repeats(before: Tried, number: int, step_um: int) -> Plan | None:
    """The plan so much narrower that it has so many repeats; None where no width gives just those."""
    plan, width = before.plan, before.worked.width
    assert width.repeats is not None, "only an order that fills the width has repeats"
    pattern = width.pattern_ends - (width.repeats - number) * plan.order.length
    across_um = width_to_ask(plan, number, plan.balance_ends, pattern, step_um)
    return None if across_um is None else replace(plan, across_um=across_um)
