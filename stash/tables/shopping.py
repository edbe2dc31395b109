"""Shopping lists: what is ordered of whom, to print, to send as plain text, to take as a table."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.formats import date_format

from stash.calc.writing import Measures
from stash.models import Order, OrderLine
from stash.services.ordering import carriage_by_terms
from stash.spreadsheets.writing import Cell
from stash.tables.exports import Units
from stash.tables.orders import LineRow, Worth, amount, line_rows, lot_words, packages, worth_of


@dataclass(frozen=True, slots=True)
class ShoppingOrder:
    """One order of a list, with the lines of which something is still wanted."""

    order: Order
    lines: Sequence[OrderLine]
    rows: Sequence[LineRow]
    worth: Worth


def shopping_orders(orders: Sequence[Order], measures: Measures) -> list[ShoppingOrder]:
    """Orders that have their supplier, and `lines` with shade, yarn, lot and put-up, fetched beforehand."""
    found = []
    for order in orders:
        lines = [line for line in order.lines.all() if line.number > line.cancelled]
        carriage = order.carriage_cents
        if carriage is None and not order.ordered_on:
            carriage = carriage_by_terms(order.supplier, lines)
        rows = line_rows(order, lines, measures)
        found.append(ShoppingOrder(order, lines, rows, worth_of(order, lines, carriage)))
    return found


def yarn_words(line: OrderLine) -> str:
    """Plain cotton, 8/2 cotton: the count as the trade writes it names its system."""
    yarn = line.shade.yarn
    return f"{yarn.name}, {yarn.count_written}" if yarn.count_written else yarn.name


def as_text(orders: Sequence[ShoppingOrder], measures: Measures, studio: str) -> str:
    """What may be sent to a supplier: no word of what it is for."""
    return "\n\n".join(_order_text(one, measures, studio) for one in orders) + "\n"


def _order_text(one: ShoppingOrder, measures: Measures, studio: str) -> str:
    order = one.order
    parts = [f"Order of {studio} to {order.supplier.name}"]
    if order.reference:
        parts[0] += f", your reference {order.reference}"
    parts.append("")
    for line in one.lines:
        wanted = line.number - line.cancelled
        parts.append(
            f"- {packages(wanted, line.form, line.mass_mg, measures)}: {line.shade.name}, {yarn_words(line)}"
        )
        more = [lot_words(line)]
        if line.need_on:
            more.append(f"needed by {date_format(line.need_on, 'j F Y')}")
        if line.price_cents is not None:
            more.append(f"{amount(line.price_cents, order.currency)} each")
        if said := "; ".join(filter(None, more)):
            parts.append(f"  {said}")
    if one.lines and one.worth.value_cents:
        parts += [
            "",
            f"Together {one.worth.words}; {one.worth.carriage_words[0].lower()}{one.worth.carriage_words[1:]}",
        ]
    return "\n".join(parts)


def headings(units: Units) -> list[str]:
    return [
        "order",
        "supplier",
        "yarn",
        "count",
        "count system",
        "shade",
        "form",
        f"net of one ({units.mass})",
        "number",
        "dye lot",
        "needed by",
        "price of one",
        "together",
        "currency",
        "what for",
    ]


def rows(orders: Sequence[ShoppingOrder], units: Units) -> Iterator[Sequence[Cell]]:
    for one in orders:
        for line in one.lines:
            yarn, wanted = line.shade.yarn, line.number - line.cancelled
            cents = line.price_cents
            yield [
                one.order.pk,
                one.order.supplier.name,
                yarn.name,
                yarn.count_written,
                yarn.get_count_system_display() if yarn.count_system else "",
                line.shade.name,
                line.get_form_display(),
                units.of_mass(line.mass_mg),
                wanted,
                lot_words(line),
                line.need_on,
                units.of_price(cents),
                units.of_price(None if cents is None else cents * wanted),
                one.order.currency,
                line.reason,
            ]
