"""What is on order of the shades of a plan: so much, and when the first of it is due."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import F
from django.utils.formats import date_format

from stash.models import OrderLine


@dataclass(frozen=True, slots=True)
class OnOrder:
    """Of one shade, in mg; `due_on` is when the first of it should come, None where nobody knows, and `order` its key."""

    mass_mg: int
    due_on: date | None
    order: int
    is_more: bool = False
    """Does it stand in several orders?"""

    @property
    def due(self) -> str:
        """due 3 December; "the first due 3 December" of several orders; the day may be unknown."""
        if self.due_on is None:
            return "due day not known"
        return f"{'the first ' if self.is_more else ''}due {date_format(self.due_on, 'j F')}"


def on_order_of(shade_ids: Collection[int]) -> dict[int, OnOrder]:
    """By the shade's key, for those of which something is awaited; by one query."""
    lines = (
        OrderLine.objects.awaited()
        .filter(shade__in=shade_ids)
        .order_by(F("order__due_on").asc(nulls_last=True), "order", "pk")
    )
    left_mg = (F("number") - F("came") - F("cancelled")) * F("mass_mg")
    found: dict[int, OnOrder] = {}
    for shade, mass_mg, due_on, order in lines.values_list("shade", left_mg, "order__due_on", "order"):
        known = found.get(shade)
        if known is None:
            found[shade] = OnOrder(mass_mg, due_on, order)
        else:
            more = known.is_more or known.order != order
            found[shade] = replace(known, mass_mg=known.mass_mg + mass_mg, is_more=more)
    return found
