"""Economic quantity: at what size of an order its own cost and the cost of keeping yarn are least together.

F. W. Harris, "How many parts to make at once", Factory, The Magazine of Management 10(2), 1913: the root of
2 x use x cost of an order / cost of keeping one. Price breaks are for all units of an order: every feasible economic
quantity is held against every break above it, since the lowest price need not be the best buy. What is kept of
stock is whole, so of an economic quantity the whole numbers either side are tried, in exact arithmetic.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isqrt, sqrt

from stash.calc.errors import CalcError

MOST = 100_000_000


def economic_quantity(use: Fraction | int, order_cost: Fraction | int, keeping_cost: Fraction | int) -> float:
    """`use` and `keeping_cost` of one unit are for the same time; money in any one unit. Raises CalcError."""
    return sqrt(_under_the_root(use, order_cost, keeping_cost))


def whole_quantities(
    use: Fraction | int, order_cost: Fraction | int, keeping_cost: Fraction | int
) -> tuple[int, int]:
    """The whole numbers either side of the economic quantity, from one on; both the same where it is whole."""
    square = _under_the_root(use, order_cost, keeping_cost)
    below = isqrt(square.numerator // square.denominator)
    return max(1, below), max(1, below + (below * below != square))


def _under_the_root(
    use: Fraction | int, order_cost: Fraction | int, keeping_cost: Fraction | int
) -> Fraction:
    if use < 0 or order_cost < 0:
        raise CalcError("Use and the cost of an order are not below 0.", field="order_cost")
    if keeping_cost <= 0:
        raise CalcError(
            "Keeping costs more than nothing, or all would be bought at once.", field="keeping_cost"
        )
    return 2 * Fraction(use) * Fraction(order_cost) / Fraction(keeping_cost)


@dataclass(frozen=True, slots=True)
class Tier:
    """From so many on, one costs so much."""

    number: int
    price: Fraction | int

    def __post_init__(self) -> None:
        if self.number < 1 or self.price < 0:
            raise CalcError("A price stands for one or more, and is not below 0.", field="price")


@dataclass(frozen=True, slots=True)
class YearOf:
    """What buying so many at a time costs in a year: goods, orders and keeping."""

    number: int
    price: Fraction
    goods: Fraction
    orders: Fraction
    keeping: Fraction

    @property
    def cost(self) -> Fraction:
        return self.goods + self.orders + self.keeping


def price_at(tiers: Iterable[Tier], number: int) -> Fraction:
    """What one costs if so many are bought. Raises CalcError below the first tier."""
    reached = [tier for tier in tiers if tier.number <= number]
    if not reached:
        raise CalcError(f"No price stands for {number}.", field="number")
    return Fraction(max(reached, key=lambda tier: tier.number).price)


def year_of(
    number: int, use: Fraction | int, order_cost: Fraction | int, rate: Fraction, tiers: Sequence[Tier]
) -> YearOf:
    """`use` in units a year; `rate` what keeping costs in a year, as a share of the price."""
    price = price_at(tiers, number)
    use = Fraction(use)
    return YearOf(number, price, use * price, use / number * order_cost, rate * price * Fraction(number, 2))


def economic_number(
    use: Fraction | int,
    order_cost: Fraction | int,
    rate: Fraction,
    tiers: Sequence[Tier],
    *,
    least: int = 1,
) -> YearOf:
    """The whole number whose year costs least; of two that cost the same the smaller. Raises CalcError."""
    if not tiers or least < 1:
        raise CalcError("An economic quantity wants a price.", field="price")
    ordered = sorted(tiers, key=lambda tier: tier.number)
    tried = {max(least, ordered[0].number)}
    for at, tier in enumerate(ordered):
        above = ordered[at + 1].number if at + 1 < len(ordered) else MOST
        tried.add(max(least, tier.number))
        if tier.price > 0:
            for number in whole_quantities(use, order_cost, rate * Fraction(tier.price)):
                if max(least, tier.number) <= number < above:
                    tried.add(number)
    years = (year_of(number, use, order_cost, rate, ordered) for number in sorted(tried))
    return min(years, key=lambda year: (year.cost, year.number))
