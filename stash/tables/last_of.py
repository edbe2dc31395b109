"""The last of a shade that is no more made: how much is left, and for whom it is reserved."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Protocol

from stash.calc.writing import Measures
from stash.models import Claim, Shade


class Stocked(Protocol):
    """A row with the sums of a shade's cones."""

    @property
    def free_mg(self) -> int: ...
    @property
    def on_hand_mg(self) -> int: ...


@dataclass(frozen=True, slots=True)
class LastOf:
    shade: Shade
    since: date | None
    free: str
    on_hand: str
    claims: Sequence[Claim]
    """For which it is reserved; who needs it first comes first."""


def last_of(shade: Shade, measures: Measures, stock: Stocked | None = None) -> LastOf:
    """`stock` spares a query where its sums are known already."""
    sums = stock or Shade.objects.filter(pk=shade.pk).with_stock().get()
    claims = (
        Claim.objects.filter(reservations__cone__shade=shade).distinct().order_by("need_on", "rank", "pk")
    )
    return LastOf(
        shade,
        shade.no_more_on,
        measures.mass(sums.free_mg, "down"),
        measures.mass(sums.on_hand_mg, "down"),
        list(claims),
    )
