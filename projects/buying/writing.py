"""A proposed order is written once: what was ordered since the proposal was looked at stands in its way."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from projects.buying.proposals import last_lines
from stash.models import Order, Person, Shade
from stash.services.locking import lock_shades
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
    known = _begun(supplier_id)
    if known:
        lock_order(known.pk, None)
    lock_supplier(supplier_id)
    # Whoever puts one of them on an order locks it first, so what is found below holds until all is written.
    lock_shades(one.line.shade_id for one in chosen)
    _refuse_what_was_ordered_since(chosen)
    if known is None:
        _refuse_a_second_order(supplier_id)
        return write_order(supplier_id=supplier_id, lines=[one.line for one in chosen], by=by)
    for at, one in enumerate(chosen, start=1):
        try:
            add_line(pk=known.pk, version=None, line=one.line, check_day=False)
        except Refusal as error:
            raise Refusal(error.message, field=f"{error.field}-{at}" if error.field else "") from error
    known.refresh_from_db()
    return known


def _begun(supplier_id: int) -> Order | None:
    return Order.objects.unsent().filter(supplier=supplier_id).order_by("pk").last()


def _refuse_a_second_order(supplier_id: int) -> None:
    """One that was begun since the first look is not taken here: an order is locked before its supplier."""
    if begun := _begun(supplier_id):
        raise Refusal(f"{begun} to them was begun meanwhile. Write again: these lines go into it.")


def _refuse_what_was_ordered_since(chosen: Sequence[Chosen]) -> None:
    last = last_lines([one.line.shade_id for one in chosen])
    for at, one in enumerate(chosen, start=1):
        if last.get(one.line.shade_id, 0) != one.seen:
            name = Shade.objects.values_list("name", flat=True).get(pk=one.line.shade_id)
            raise Refusal(
                f"{name} was put on an order meanwhile. Look at what is still asked for, and write again if it is.",
                field=f"number-{at}",
            )
