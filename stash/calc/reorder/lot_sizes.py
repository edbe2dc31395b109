"""Lot sizes for needs that differ from time to time: which of them are bought together.

H. M. Wagner & T. M. Whitin, "Dynamic version of the economic lot size model", Management Science 5(1), 1958, 89-96:
an order is worth its cost if keeping the yarn from then on is cheaper than another order. Solved exactly; heuristics
that look ahead from period to period come out 7 % dearer on published examples.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from stash.calc.errors import CalcError

MOST_PERIODS = 1_000


@dataclass(frozen=True, slots=True)
class LotPlan:
    """What is bought in each period, and the least that orders and keeping cost."""

    lots: tuple[int, ...]
    cost: Fraction
    cost_through: tuple[Fraction, ...]
    """The least that the first periods alone cost."""

    @property
    def orders(self) -> tuple[tuple[int, int], ...]:
        """Period, counted from one, and number."""
        return tuple((at, lot) for at, lot in enumerate(self.lots, start=1) if lot)


def best_lots(
    needs: Sequence[int],
    order_costs: Sequence[Fraction | int],
    keeping: Fraction | int | Sequence[Fraction | int],
) -> LotPlan:
    """Keeping is charged for one unit on what is left at the end of a period. Of plans that cost the same it is the one
    with the fewest orders, and of these the one that buys latest.

    `keeping` is one figure, or as many as periods: what it costs from one to the next. Raises CalcError.
    """
    count = len(needs)
    if count > MOST_PERIODS:
        raise CalcError(f"At most {MOST_PERIODS} periods are looked at.", field="needs")
    held = [keeping] * count if isinstance(keeping, int | Fraction) else list(keeping)
    if len(order_costs) != count or len(held) != count:
        raise CalcError("Every period has a need, a cost of an order and a cost of keeping.", field="needs")
    if any(figure < 0 for figures in (needs, order_costs, held) for figure in figures):
        raise CalcError("Needs and costs are not below 0.", field="needs")
    best: list[tuple[Fraction, int]] = [(Fraction(0), 0)]
    begun: list[int | None] = [None]
    for end in range(count):
        found: tuple[Fraction, int, int] | None = None
        at: int | None = None
        if not needs[end]:
            found = (*best[end], 0)
        kept, carried = Fraction(0), 0
        for start in range(end, -1, -1):
            if start < end:
                carried += needs[start + 1]
                kept += carried * Fraction(held[start])
            cost, orders = best[start]
            this = (cost + Fraction(order_costs[start]) + kept, orders + 1, -start)
            if needs[end] and (found is None or this < found):
                found, at = this, start
        assert found is not None
        best.append(found[:2])
        begun.append(at)
    lots = [0] * count
    end = count
    while end:
        first = begun[end]
        if first is None:
            end -= 1
            continue
        lots[first] += sum(needs[first:end])
        end = first
    return LotPlan(tuple(lots), best[-1][0], tuple(cost for cost, _ in best[1:]))
