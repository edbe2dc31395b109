"""Orders of yarn: written, sent, waited for, closed.

An order is locked before its lines are looked at, whoever changes them, so that a version of it stands for all of
them. In the order of locks it comes after claims and before yarn: project, claim, order, supplier, yarn, shade,
cones. What comes of an order is taken in by `stash.services.deliveries`.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.formats import date_format

from stash.models import Form, Lot, Order, OrderLine, OrderLot, Person, PutUp, Shade, Studio, Supplier
from stash.models.order import MOST_PACKAGES
from stash.models.supplier import MOST_DAYS
from stash.services.locking import lock_shade, lock_shades
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
from stash.services.versions import lock_version
from stash.services.weighing import MOST_OF_A_CONE_MG

MOST_LINES = 200


@dataclass(frozen=True, slots=True)
class NewLine:
    """So many packages of a shade, each of `mass_mg` net. `price_cents` is for one, in the supplier's currency."""

    shade_id: int
    number: int
    mass_mg: int
    form: str = Form.CONE
    put_up_id: int | None = None
    price_cents: int | None = None
    lot_wish: str = OrderLot.ANY
    lot_id: int | None = None
    need_on: date | None = None
    reason: str = ""


def lock_supplier(pk: int) -> Supplier:
    """The supplier, locked, so that it is not retired while it is ordered from. Raises Refusal if there is none."""
    found = Supplier.objects.select_for_update(of=("self",), no_key=True).filter(pk=pk).first()
    if found is None:
        raise Refusal("There is no such supplier any more.", field="supplier")
    return found


def lock_order(pk: int, version: int | None) -> Order:
    """The order, locked and one version on. Raises Refusal if there is none, ChangedMeanwhile."""
    try:
        return lock_version(Order.objects.all(), pk, version, "This order")
    except Order.DoesNotExist:
        raise Refusal("There is no such order any more.") from None


def currency_of(supplier: Supplier) -> str:
    """Three letters: the supplier's own currency, or else the studio's."""
    return supplier.currency or Studio.objects.values_list("currency", flat=True).first() or "EUR"


@transaction.atomic
def write_order(*, supplier_id: int, lines: Sequence[NewLine], by: Person, note: str = "") -> Order:
    """A new order of one supplier, still to be sent. It may begin without lines.

    Raises Refusal, or ValidationError; what is about one line names it, counted from one: "number-2".
    """
    supplier = lock_supplier(supplier_id)
    _check_asked(supplier)
    if len(lines) > MOST_LINES:
        raise Refusal(f"An order takes at most {MOST_LINES} lines. Write two.")
    order = Order(
        supplier=supplier,
        note=note.strip(),
        currency=currency_of(supplier),
        by=by,
        made_at=timezone.now(),
    )
    order.full_clean()
    order.save()
    lock_shades(line.shade_id for line in lines)
    for at, line in enumerate(lines, start=1):
        try:
            _put_line(order, OrderLine(order=order), line)
        except Refusal as error:
            raise Refusal(error.message, field=f"{error.field}-{at}" if error.field else "") from error
    return order


@transaction.atomic
def add_line(*, pk: int, version: int | None, line: NewLine, check_day: bool = True) -> OrderLine:
    """One more line of an order that is still being written. Without `check_day` it may be needed on a day that is
    over, as a job is that runs late. Raises Refusal, ChangedMeanwhile, ValidationError."""
    order = _being_written(pk, version)
    if order.lines.count() >= MOST_LINES:
        raise Refusal(f"An order takes at most {MOST_LINES} lines. Write another order.")
    if check_day:
        _check_need_day(line.need_on)
    made = _put_line(order, OrderLine(order=order), line)
    order.save(update_fields=["version"])
    return made


@transaction.atomic
def change_line(*, pk: int, line_id: int, version: int | None, line: NewLine) -> OrderLine:
    """Write a line of an order anew, while that is not sent. Raises Refusal, ChangedMeanwhile, ValidationError."""
    order = _being_written(pk, version)
    known = _line(order, line_id)
    if line.need_on != known.need_on:
        _check_need_day(line.need_on)
    made = _put_line(order, known, line)
    order.save(update_fields=["version"])
    return made


@transaction.atomic
def remove_line(*, pk: int, line_id: int, version: int | None) -> None:
    """Take a line out of an order that is still being written. Raises Refusal, ChangedMeanwhile."""
    order = _being_written(pk, version)
    _line(order, line_id).delete()
    order.save(update_fields=["version"])


@transaction.atomic
def discard_order(*, pk: int, version: int | None) -> None:
    """Give up an order that was never sent, with its lines. Raises Refusal, ChangedMeanwhile."""
    order = _being_written(pk, version)
    _check_nothing_came(order)
    order.delete()


@transaction.atomic
def mark_ordered(
    *,
    pk: int,
    version: int | None,
    on: date,
    due_on: date | None = None,
    reference: str = "",
    carriage_cents: int | None = None,
    was_sooner: bool = False,
) -> Order:
    """It went out on that day. Without `due_on` it is due after the supplier's lead time, if that is known; without
    `carriage_cents` carriage is what the supplier's terms make it. A day before it was written here is kept only if
    `was_sooner` says so.

    Raises Refusal, ChangedMeanwhile, or ValidationError naming the field.
    """
    order = lock_order(pk, version)
    if order.ordered_on:
        raise Refusal(f"This order went out on {_day(order.ordered_on)} already.")
    lines = list(order.lines.all())
    if not lines:
        raise Refusal("Nothing stands in this order yet. Add a line first.")
    supplier = lock_supplier(order.supplier_id)
    _check_asked(supplier)
    _check_currency(order, supplier)
    _check_went_out(order, on, was_sooner)
    if due_on is None and supplier.lead_days is not None:
        due_on = on + timedelta(days=supplier.lead_days)
    elif due_on is not None:
        _check_due(due_on, on)
    order.ordered_on, order.due_on, order.late_days = on, due_on, supplier.late_days
    order.reference = reference.strip()
    if carriage_cents is None:
        carriage_cents = carriage_by_terms(supplier, lines)
    order.carriage_cents = carriage_cents
    save_checked(order)
    return order


@transaction.atomic
def take_back_ordered(*, pk: int, version: int | None) -> Order:
    """It did not go out after all: it is being written again. Raises Refusal once something came, ChangedMeanwhile."""
    order = _sent(pk, version)
    lines = list(order.lines.all())
    if any(line.came or line.cancelled for line in lines):
        raise Refusal("Something of this order came or was cancelled already. It did go out.")
    _check_nothing_came(order)
    if order.carriage_cents == carriage_by_terms(order.supplier, lines):
        # Reckoned, not typed: what is written further changes it.
        order.carriage_cents = None
    order.ordered_on = order.due_on = order.closed_at = None
    order.late_days = 0
    save_checked(order)
    return order


@transaction.atomic
def change_order(
    *,
    pk: int,
    version: int | None,
    note: str = "",
    reference: str = "",
    due_on: date | None = None,
    carriage_cents: int | None = None,
) -> Order:
    """Put right what is written about an order as a whole. When it is due is known once it is ordered.

    Raises Refusal, ChangedMeanwhile, or ValidationError naming the field.
    """
    order = lock_order(pk, version)
    order.note, order.reference, order.carriage_cents = note.strip(), reference.strip(), carriage_cents
    if due_on != order.due_on:
        if order.ordered_on is None:
            raise Refusal(
                "When it is due is known once it is ordered. Mark it as ordered first.", field="due_on"
            )
        if due_on is not None:
            _check_due(due_on, order.ordered_on)
        order.due_on = due_on
    save_checked(order)
    return order


@transaction.atomic
def cancel_line(*, pk: int, line_id: int, version: int | None, number: int) -> OrderLine:
    """So many of a line will not come, in all: said anew, a lower number awaits the others again.

    An order of which nothing more is awaited closes itself, and opens again when something is. Raises Refusal,
    ChangedMeanwhile.
    """
    order = _sent(pk, version)
    line = _line(order, line_id)
    left = max(0, line.number - line.came)
    if not 0 <= number <= left:
        came = f" {line.came} came already." if line.came else ""
        raise Refusal(f"Of {line.number} ordered at most {left} can be cancelled.{came}", field="cancelled")
    line.cancelled = number
    line.save(update_fields=["cancelled"])
    settle(order)
    return line


@transaction.atomic
def close_order(*, pk: int, version: int | None) -> Order:
    """Await nothing more: what has not come is cancelled. Raises Refusal, ChangedMeanwhile."""
    order = _sent(pk, version)
    if order.closed_at:
        raise Refusal("Nothing is awaited of this order any more.")
    for line in order.lines.all():
        if line.awaited:
            line.cancelled = line.number - line.came
            line.save(update_fields=["cancelled"])
    settle(order)
    return order


def settle(order: Order) -> None:
    """Close a locked order of which nothing is awaited, or open it again; saves it with its version."""
    awaits = any(line.awaited for line in order.lines.all())
    if awaits:
        order.closed_at = None
    elif order.closed_at is None:
        order.closed_at = timezone.now()
    order.save(update_fields=["closed_at", "version"])


def carriage_by_terms(supplier: Supplier, lines: Collection[OrderLine]) -> int | None:
    """Carriage of these lines after the supplier's terms, in hundredths; None where they do not say, or where it hangs
    on a price that is not known."""
    free_from = supplier.carriage_free_cents
    if supplier.carriage_cents is None or free_from is None:
        return supplier.carriage_cents
    known = sum((line.price_cents or 0) * (line.number - line.cancelled) for line in lines)
    if known >= free_from:
        return 0
    return None if any(line.price_cents is None for line in lines) else supplier.carriage_cents


def open_order_of(shade: Shade) -> Order | None:
    """The first order that is being written, or of which something is awaited, with this shade in it."""
    lines = shade.order_lines.filter(order__closed_at=None, number__gt=F("came") + F("cancelled"))
    line = lines.select_related("order").order_by("order").first()
    return line.order if line else None


def _being_written(pk: int, version: int | None) -> Order:
    order = lock_order(pk, version)
    if order.ordered_on:
        raise Refusal(
            f"This order went out on {_day(order.ordered_on)}. Its lines stay as they were sent: cancel what will "
            "not come, and write another order for more."
        )
    return order


def _sent(pk: int, version: int | None) -> Order:
    order = lock_order(pk, version)
    if order.ordered_on is None:
        raise Refusal("This order was not sent yet. Mark it as ordered first.")
    return order


def _check_nothing_came(order: Order) -> None:
    """Also what came and went back came: its delivery stays in the books, and so does the order."""
    if order.deliveries.exists():
        raise Refusal("A parcel of this order came, even if all of it went back: it did go out, and stays.")


def _line(order: Order, line_id: int) -> OrderLine:
    found = order.lines.filter(pk=line_id).first()
    if found is None:
        raise Refusal("There is no such line in this order any more.")
    return found


def _put_line(order: Order, row: OrderLine, said: NewLine) -> OrderLine:
    """Check a line against its supplier and keep it. The order is locked."""
    supplier = Supplier.objects.get(pk=order.supplier_id)
    _check_currency(order, supplier)
    # Locked, so that the shade is not retired while it is ordered.
    shade = lock_shade(said.shade_id)
    if shade.retired_at or shade.yarn.retired_at:
        raise Refusal(f"{shade.name} is retired. Bring the shade back before ordering it.", field="shade")
    if not 1 <= said.number <= MOST_PACKAGES:
        raise Refusal(f"Order from 1 to {MOST_PACKAGES:,} packages.", field="number")
    if not 0 < said.mass_mg <= MOST_OF_A_CONE_MG:
        most = MOST_OF_A_CONE_MG // 1_000_000
        raise Refusal(f"A package weighs more than nothing and at most {most} kg.", field="mass")
    put_up = _put_up(order, shade, said)
    row.shade, row.put_up, row.form = shade, put_up, said.form
    row.mass_mg, row.number, row.price_cents = said.mass_mg, said.number, said.price_cents
    row.lot_wish, row.lot = said.lot_wish, _lot(shade, said)
    row.need_on, row.reason = said.need_on, said.reason.strip()
    save_checked(row)
    return row


def _put_up(order: Order, shade: Shade, said: NewLine) -> PutUp | None:
    if said.put_up_id is None:
        return None
    found = PutUp.objects.filter(pk=said.put_up_id).first()
    if found is None:
        raise Refusal("There is no such put-up any more.", field="put_up")
    of_another = found.supplier_id != order.supplier_id or found.yarn_id != shade.yarn_id
    if of_another or found.shade_id not in (None, shade.pk):
        raise Refusal(f"This supplier does not sell {shade.name} in that put-up.", field="put_up")
    if found.retired_at:
        raise Refusal("This put-up is sold no more. Choose another.", field="put_up")
    if (found.mass_mg, found.form) != (said.mass_mg, said.form):
        raise Refusal("The put-up was changed meanwhile: it has another form or weight now.", field="put_up")
    if said.number < found.least:
        raise Refusal(f"At least {found.least} of one shade are sold at a time.", field="number")
    return found


def _lot(shade: Shade, said: NewLine) -> Lot | None:
    if said.lot_wish not in OrderLot.values:
        raise Refusal("Choose from the list which lot is asked for.", field="lot_wish")
    if said.lot_wish != OrderLot.MATCH:
        return None
    found = Lot.objects.filter(pk=said.lot_id, shade=shade).first() if said.lot_id else None
    if found is None:
        raise Refusal(f"Name a lot of {shade.name} to match.", field="lot")
    return found


def _check_asked(supplier: Supplier) -> None:
    if supplier.retired_at:
        raise Refusal(
            f"{supplier.name} is retired. Take the supplier back into use before ordering there.",
            field="supplier",
        )


def _check_currency(order: Order, supplier: Supplier) -> None:
    """An order is in one currency, from its first line to its last."""
    now = currency_of(supplier)
    if now != order.currency:
        raise Refusal(
            f"This order was begun in {order.currency}, and {supplier.name} is paid in {now} now. Two currencies "
            "are never added up: write a new order.",
        )


def _check_need_day(day: date | None) -> None:
    if day is not None and day < timezone.localdate():
        raise Refusal(f"{_day(day)} is over. Give a day to come, or leave it empty.", field="need_on")


def _check_went_out(order: Order, on: date, was_sooner: bool) -> None:
    today = timezone.localdate()
    if on > today:
        raise Refusal(f"{_day(on)} is still to come. Say it on the day it goes out.", field="on")
    if on < today - timedelta(days=MOST_DAYS):
        raise Refusal(f"{_day(on)} is more than two years ago. Check the year.", field="on")
    written = timezone.localtime(order.made_at).date()
    if on < written and not was_sooner:
        raise Refusal(
            f"This order was written here on {_day(written)}. If it went out before that, tick so below.",
            field="on",
        )


def _check_due(due_on: date, ordered_on: date) -> None:
    if due_on < ordered_on:
        raise Refusal(
            f"It went out on {_day(ordered_on)}: it comes on that day or later.",
            field="due_on",
        )
    if due_on < timezone.localdate():
        raise Refusal(f"{_day(due_on)} is over. Give the day on which it should come.", field="due_on")
    if due_on > ordered_on + timedelta(days=MOST_DAYS):
        raise Refusal("That is more than two years after it went out. Check the year.", field="due_on")


def _day(day: date) -> str:
    return date_format(day, "j F Y")
