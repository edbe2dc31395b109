"""Put-ups: how many whole ones are bought, and what they cost. Prices are whole cents for one, breaks for all of them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from stash.calc.errors import CalcError
from stash.calc.outlook import UsualUse
from stash.calc.reorder.economic import Tier, economic_number

MOST_NUMBER = 1_000
"""Of one line of an order."""
WEEKS_A_YEAR = Fraction(1461, 28)
"""365 1/4 days."""


@dataclass(frozen=True, slots=True)
class Offered:
    """What one supplier sells the shade in. `breaks` are (from so many, price of one)."""

    id: int
    supplier_id: int
    mass_mg: int
    price_cents: int | None = None
    least: int = 1
    breaks: tuple[tuple[int, int], ...] = ()

    def __post_init__(self) -> None:
        if self.mass_mg <= 0 or self.least < 1:
            raise CalcError("A put-up weighs more than nothing, and one at least is sold.", field="mass_mg")

    @property
    def tiers(self) -> tuple[Tier, ...]:
        """Empty where the price of one is not known: a break alone says nothing of smaller numbers."""
        if self.price_cents is None:
            return ()
        return (Tier(1, self.price_cents), *(Tier(number, price) for number, price in self.breaks))

    def price_at(self, number: int) -> int | None:
        """What one costs if so many are bought; None where that is not known."""
        reached = [(least, price) for least, price in self.breaks if least <= number]
        return max(reached)[1] if reached else self.price_cents

    def cost_of(self, number: int) -> int | None:
        """Of so many together, without carriage."""
        price = self.price_at(number)
        return None if price is None else number * price


class Why(StrEnum):
    """What decided the number."""

    NEEDED = "needed"
    LEAST = "least"
    """The supplier sells no fewer."""
    BREAK = "break"
    """As many more cost less in all, since each is cheaper."""
    ECONOMIC = "economic"
    """So many at a time cost least in a year."""
    ONE_MORE = "one more"
    """One beyond what is needed, so that the lot lasts."""


@dataclass(frozen=True, slots=True)
class Counted:
    """So many of one put-up, and step by step how it came to that."""

    offered: Offered
    number: int
    steps: tuple[tuple[Why, int], ...]
    """Each step with the number that it led to; the first is what is needed."""

    @property
    def cost_cents(self) -> int | None:
        return self.offered.cost_of(self.number)

    @property
    def mass_mg(self) -> int:
        return self.number * self.offered.mass_mg

    @property
    def saved_cents(self) -> int:
        """What the break saves against the number before it."""
        before = 0
        for why, number in self.steps:
            if why == Why.BREAK:
                was, now = self.offered.cost_of(before), self.offered.cost_of(number)
                return (was or 0) - (now or 0)
            before = number
        return 0


@dataclass(frozen=True, slots=True)
class Keeping:
    """What an order costs in work and trouble, in cents, and what keeping yarn costs in a year, as a share of its price."""

    order_cents: int
    rate: Fraction


def count(
    offered: Offered,
    needed: int,
    *,
    one_more: bool = False,
    use: UsualUse | None = None,
    keeping: Keeping | None = None,
) -> Counted:
    """Whole put-ups for a need of so many: no fewer than are sold, as many as are cheapest a year where usual use, its
    costs and the price are known, and those at a break above if all of them cost less. Raises CalcError.
    """
    if needed < 1:
        raise CalcError("Nothing is needed.", field="needed")
    number = needed
    steps = [(Why.NEEDED, number)]
    if one_more:
        number += 1
        steps.append((Why.ONE_MORE, number))
    if number < offered.least:
        number = offered.least
        steps.append((Why.LEAST, number))
    if use and use.week_mg and keeping and offered.tiers:
        a_year = use.week_mg * WEEKS_A_YEAR / offered.mass_mg
        best = economic_number(
            a_year, keeping.order_cents, keeping.rate, offered.tiers, least=offered.least
        ).number
        if best > number:
            number = min(best, MOST_NUMBER)
            steps.append((Why.ECONOMIC, number))
    cheaper = _cheaper_break(offered, number)
    if cheaper is not None:
        number = cheaper
        steps.append((Why.BREAK, number))
    return Counted(offered, number, tuple(steps))


def _cheaper_break(offered: Offered, number: int) -> int | None:
    """The break above that costs least in all, if that is less than the number itself; of two the smaller."""
    cost = offered.cost_of(number)
    if cost is None:
        return None
    above = [(least * price, least) for least, price in offered.breaks if least > number]
    best = min(above, default=None)
    return best[1] if best and best[0] < cost else None
