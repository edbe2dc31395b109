"""Orders in words: how many of what, which lot, how late, what they cost."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.utils.formats import date_format

from stash.calc.writing import Measures, decimal
from stash.models import Form, Order, OrderLine, OrderLot


@dataclass(frozen=True, slots=True)
class Lateness:
    """How an order under way stands to its day: `state` is tight within the usual delay and short beyond it."""

    state: str
    words: str
    sentence: str


def lateness(order: Order, today: date) -> Lateness | None:
    """None while it is not over its day, or nothing is awaited, or nobody knows the day."""
    over = order.days_over(today)
    if not over or order.due_on is None or order.sure_on is None:
        return None
    due, sure = _day(order.due_on), _day(order.sure_on)
    if order.is_late(today):
        usual = f"; with the usual delay it was due on {sure}" if order.late_days else ""
        return Lateness("short", f"{days(over)} late", f"{days(over)} late: it was due on {due}{usual}.")
    return Lateness(
        "tight",
        f"{days(over)} over its day",
        f"It was due on {due}. With the usual delay of {days(order.late_days)} it comes by {sure}.",
    )


def days(number: int) -> str:
    return "1 day" if number == 1 else f"{number:,} days"


def counted_form(number: int, form: str) -> str:
    """2 cones, 1 skein."""
    label = Form(form).label
    return f"1 {label}" if number == 1 else f"{number:,} {label}s"


def packages(number: int, form: str, mass_mg: int, measures: Measures) -> str:
    """2 cones of 454 g."""
    return f"{counted_form(number, form)} of {measures.mass(mass_mg)}"


def lot_words(line: OrderLine) -> str:
    """What is asked of the dyer; "" where any lot will do."""
    if line.lot_wish == OrderLot.ONE:
        return "all one lot please" if line.number > 1 else ""
    if line.lot_wish == OrderLot.MATCH and line.lot:
        return f"the same lot as {line.lot.name}"
    return ""


def amount(cents: int, currency: str) -> str:
    """12.50 EUR."""
    return f"{decimal(Fraction(cents, 100), 2)} {currency}"


@dataclass(frozen=True, slots=True)
class Worth:
    """What an order costs, in hundredths of its own currency: lines at the prices that are known, then carriage."""

    currency: str
    value_cents: int
    unpriced: int
    carriage_cents: int | None

    @property
    def value(self) -> str:
        return amount(self.value_cents, self.currency)

    @property
    def carriage(self) -> str:
        return "" if self.carriage_cents is None else amount(self.carriage_cents, self.currency)

    @property
    def total(self) -> str:
        return amount(self.value_cents + (self.carriage_cents or 0), self.currency)

    @property
    def words(self) -> str:
        """55.50 EUR, "at least" where a price is missing, a dash where none is known."""
        if self.unpriced and not self.value_cents:
            return "–"
        return f"at least {self.value}" if self.unpriced else self.value


def worth_of(order: Order, lines: Iterable[OrderLine], carriage_cents: int | None) -> Worth:
    """Of an order with its lines; cancelled packages cost nothing."""
    wanted = [line for line in lines if line.number > line.cancelled]
    return Worth(
        order.currency,
        sum((line.price_cents or 0) * (line.number - line.cancelled) for line in wanted),
        sum(line.price_cents is None for line in wanted),
        carriage_cents,
    )


def _day(day: date) -> str:
    return date_format(day, "j F Y")
