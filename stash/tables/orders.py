"""Orders in words: how many of what, which lot, how late, what they cost."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format

from stash.calc.money import write_price as amount
from stash.calc.writing import Measures
from stash.models import Form, Order, OrderLine, OrderLot
from stash.services.suppliers import price_of


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
        """6.50 EUR, "none" where it costs nothing, "" where it is not known."""
        if self.carriage_cents is None:
            return ""
        return amount(self.carriage_cents, self.currency) if self.carriage_cents else "none"

    @property
    def carriage_words(self) -> str:
        if self.carriage_cents is None:
            return "Carriage not known"
        return f"With {self.carriage} of carriage" if self.carriage_cents else "No carriage"

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


@dataclass(frozen=True, slots=True)
class LineRow:
    """A line of an order as its page shows it. `note` says what has changed at the supplier since it was written."""

    line: OrderLine
    what: str
    lot: str
    each: str
    together: str
    note: str = ""


def line_rows(order: Order, lines: Iterable[OrderLine], measures: Measures) -> list[LineRow]:
    """Lines with their shade and yarn, and with the price breaks of their put-ups where the order is being written."""
    return [_row(order, line, measures) for line in lines]


def _row(order: Order, line: OrderLine, measures: Measures) -> LineRow:
    wanted = line.number - line.cancelled
    return LineRow(
        line=line,
        what=packages(line.number, line.form, line.mass_mg, measures),
        lot=lot_words(line),
        each="" if line.price_cents is None else amount(line.price_cents, order.currency),
        together="" if line.price_cents is None else amount(line.price_cents * wanted, order.currency),
        note="" if order.ordered_on else _changed_since(order, line),
    )


def _changed_since(order: Order, line: OrderLine) -> str:
    put_up = line.put_up
    if line.shade.no_more_on:
        return "Known as no more made: ask whether they have some left."
    if put_up is None:
        return ""
    if put_up.retired_at:
        return "This put-up is sold no more."
    now = price_of(put_up, line.number)
    if now is not None and now != line.price_cents:
        return f"Noted at the supplier: {amount(now, order.currency)} each."
    return ""


@dataclass(frozen=True, slots=True)
class Falling:
    """How an order stands to its supplier's terms, in sentences; "" where there is nothing to say."""

    minimum: str
    carriage: str


def held_to_terms(order: Order, worth: Worth) -> Falling:
    """How much is missing to the least value that is taken, and to where carriage costs nothing."""
    supplier, value = order.supplier, worth.value_cents
    at_least = " at the prices that are known" if worth.unpriced else ""
    minimum = carriage = ""
    if supplier.minimum_cents is not None and value < supplier.minimum_cents:
        missing = amount(supplier.minimum_cents - value, order.currency)
        least = amount(supplier.minimum_cents, order.currency)
        minimum = f"{missing} short of the {least} that {supplier.name} takes at least{at_least}."
    if supplier.carriage_free_cents is not None and value < supplier.carriage_free_cents:
        missing = amount(supplier.carriage_free_cents - value, order.currency)
        carriage = f"For {missing} more, carriage costs nothing{at_least}."
    return Falling(minimum, carriage)
