"""Fewer like warps: fewer kits of a class."""

from __future__ import annotations

from dataclasses import dataclass, replace

from stash.calc.ways.search import greatest
from stash.calc.ways.tried import Tried, Way, cured, try_plan


@dataclass(frozen=True, slots=True)
class FewerWarps(Way):
    """`after.plan.warps` are left."""


def fewer_warps(before: Tried) -> FewerWarps | None:
    """As few warps fewer as cure it; None where there is one, or no number cures it."""
    plan = before.plan

    def tried(warps: int) -> Tried:
        return try_plan(replace(plan, warps=warps), before.stock, before.usable_um)

    number = greatest(lambda warps: cured(before, tried(warps)), plan.warps - 1)
    return FewerWarps(before, tried(number)) if number else None
