"""Less loom waste: the warp is tied on to an old one, laced on, or woven on another loom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from stash.calc.ways.tried import Tried, Way, try_plan

USUAL_TIED_ON_UM = 304_800
"""12 in: tied on behind the shafts nearly the whole new warp can be woven, 10 to 14 in are lost (common practice)."""


@dataclass(frozen=True, slots=True)
class Waste:
    """What is lost on a warp in one way of dressing. `key` is the caller's own, `usable_um` the width it takes."""

    key: str
    waste_um: int
    usable_um: int | None = None


@dataclass(frozen=True, slots=True)
class LessWaste(Way):
    key: str
    saved_um: int
    """Below 0 where a wider loom loses more."""


def less_waste(before: Tried, wastes: Sequence[Waste]) -> list[LessWaste]:
    """Every way of dressing that loses less than the plan does, the least waste first; of a loom that is wide
    enough. Where the plan's own loom is too narrow, any that is wide enough, whatever it loses."""
    plan = before.plan
    found = []
    for waste in sorted(wastes, key=lambda one: one.waste_um):
        if waste.waste_um >= plan.waste_um and before.fits:
            continue
        usable = waste.usable_um if waste.usable_um is not None else before.usable_um
        front = min(plan.waste_front_um, waste.waste_um)
        after = try_plan(replace(plan, waste_um=waste.waste_um, waste_front_um=front), before.stock, usable)
        if after.fits:
            found.append(LessWaste(before, after, waste.key, plan.waste_um - waste.waste_um))
    return found
