"""A proposed order is written once: what was ordered since the proposal was looked at stands in its way."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from projects.buying.proposals import last_lines
from stash.models import Order, Person, Shade
from stash.services.ordering import NewLine, add_line, lock_order, lock_supplier, write_order
from stash.services.refusal import Refusal


@dataclass(frozen=True, slots=True)
class Chosen:
    """A line, and the newest order line of its shade that the person saw."""

    line: NewLine
    seen: int


@transaction.atomic
def write_proposed(*, supplier_id: int, chosen: Sequence[Chosen], by: Person) -> Order:
    """Into the order to them that is being written, else into a new one: one parcel, one carriage.

    Raises Refusal, or ValidationError; what is about one line names it, counted from one: "number-2".
    """
    if not chosen:
        raise Refusal("Tick at least one shade to order.")
    known = Order.objects.unsent().filter(supplier=supplier_id).order_by("pk").last()
    if known:
        lock_order(known.pk, None)
    lock_supplier(supplier_id)
    _refuse_what_was_ordered_since(chosen)
    if known is None:
        return write_order(supplier_id=supplier_id, lines=[one.line for one in chosen], by=by)
    for at, one in enumerate(chosen, start=1):
        try:
            add_line(pk=known.pk, version=None, line=one.line)
        except Refusal as error:
            raise Refusal(error.message, field=f"{error.field}-{at}" if error.field else "") from error
    known.refresh_from_db()
    return known


def _refuse_what_was_ordered_since(chosen: Sequence[Chosen]) -> None:
    last = last_lines([one.line.shade_id for one in chosen])
    for at, one in enumerate(chosen, start=1):
        if last.get(one.line.shade_id, 0) != one.seen:
            name = Shade.objects.values_list("name", flat=True).get(pk=one.line.shade_id)
            raise Refusal(
                f"{name} was put on an order meanwhile. Look at what is still asked for, and write again if it is.",
                field=f"number-{at}",
            )
