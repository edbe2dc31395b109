"""What stops one from making more: what every further piece would lack."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from stash.calc.errors import CalcError
from stash.calc.most import Stock
from stash.calc.plan import Plan
from stash.calc.verdict import ShadeVerdict
from stash.calc.ways.tried import Tried, try_plan

MOST_MORE = 50


@dataclass(frozen=True, slots=True)
class More:
    """So many more pieces than are planned; `tried` is the plan with them."""

    more: int
    tried: Tried

    @property
    def missing(self) -> tuple[ShadeVerdict, ...]:
        """Shades that are short of their bare need, the one that misses most first; none where it can be woven."""
        return tuple(sorted(self.tried.short, key=lambda found: -found.short_um))


def more_pieces(plan: Plan, stock: Mapping[str, Stock], up_to: int) -> tuple[More, ...]:
    """One more piece, two more, and so on, each worked out and judged as a plan of its own, as far as a warp can be
    planned. Raises CalcError unless `up_to` is 1 to 50."""
    if not 1 <= up_to <= MOST_MORE:
        raise CalcError(f"Ask for 1 to {MOST_MORE} more.", field="up_to")
    found = []
    for more in range(1, up_to + 1):
        try:
            tried = try_plan(replace(plan, pieces=plan.pieces + more), stock)
        except CalcError:
            break  # longer than any warp that can be planned
        found.append(More(more, tried))
    return tuple(found)
