"""Orders and put-ups to take away. Amounts stand beside their currency: those of two are in one column."""

from collections.abc import Iterator, Sequence

from stash.models import OrderLine, PutUp, Studio
from stash.spreadsheets.writing import Cell
from stash.tables.exports import ExportTable, Units, in_rounds, local
from stash.tables.orders import lot_words


def _order_headings(units: Units) -> list[str]:
    return [
        "order",
        "supplier",
        "ordered",
        "due",
        "usual delay (days)",
        "their reference",
        "yarn",
        "count",
        "shade",
        "form",
        f"net of one ({units.mass})",
        "number",
        "came",
        "cancelled",
        "awaited",
        "dye lot asked for",
        "needed by",
        "price of one",
        "currency",
        "what for",
        "written",
        "done",
    ]


def _order_rows(units: Units) -> Iterator[Sequence[Cell]]:
    lines = OrderLine.objects.select_related("order__supplier", "shade__yarn", "lot").order_by("order", "pk")
    for line in in_rounds(lines):
        order, yarn = line.order, line.shade.yarn
        is_awaited = order.ordered_on is not None and order.closed_at is None
        yield [
            order.pk,
            order.supplier.name,
            order.ordered_on,
            order.due_on,
            order.late_days if order.ordered_on else None,
            order.reference,
            yarn.name,
            yarn.count_written,
            line.shade.name,
            line.get_form_display(),
            units.of_mass(line.mass_mg),
            line.number,
            line.came,
            line.cancelled,
            line.awaited if is_awaited else 0,
            lot_words(line),
            line.need_on,
            units.of_price(line.price_cents),
            order.currency,
            line.reason,
            local(order.made_at),
            local(order.closed_at),
        ]


def _put_up_headings(units: Units) -> list[str]:
    return [
        "supplier",
        "yarn",
        "count",
        "only in the shade",
        "form",
        f"net ({units.mass})",
        "price of one",
        "currency",
        "cheaper from a number on",
        "at least",
        "from order to parcel (days)",
        "usual delay (days)",
        "sold no more since",
    ]


def _put_up_rows(units: Units) -> Iterator[Sequence[Cell]]:
    own = Studio.objects.values_list("currency", flat=True).first() or ""
    found = PutUp.objects.select_related("supplier", "yarn", "shade").prefetch_related("breaks")
    for one in in_rounds(found.order_by("supplier__name", "supplier", "pk")):
        supplier = one.supplier
        yield [
            supplier.name,
            one.yarn.name,
            one.yarn.count_written,
            one.shade.name if one.shade else "",
            one.get_form_display(),
            units.of_mass(one.mass_mg),
            units.of_price(one.price_cents),
            supplier.currency or own,
            ", ".join(f"{step.number}: {units.of_price(step.price_cents)}" for step in one.breaks.all()),
            one.least,
            supplier.lead_days,
            supplier.late_days,
            local(one.retired_at),
        ]


BUYING_TABLES = (
    ExportTable(
        "orders", "Orders", "every line of every order, and what came of it", _order_headings, _order_rows
    ),
    ExportTable("put-ups", "Put-ups", "what suppliers sell, at which prices", _put_up_headings, _put_up_rows),
)
