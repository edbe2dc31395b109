"""Counting back from a fair: by when all must be ready, and which day of a project lies too late for it.

The chain is the trade's own (common practice): fair day, less the days kept clear for labels and packing, is the day
by which it all is ready; before it lie finishing, weaving and dressing, before those the winding day, and before that
the last day to order yarn. Only days that a person set, or that follow from a supplier's time, are counted. The hours
that finishing, weaving and dressing take are not known here, so none is guessed: what is left for them is said in days.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import Enum

from stash.calc.errors import CalcError

MOST_CLEAR_DAYS = 120


@dataclass(frozen=True, slots=True)
class FairDays:
    """First and last day of a fair, and how many days before it are kept clear. Raises CalcError with its field."""

    begins_on: date
    ends_on: date
    clear_days: int

    def __post_init__(self) -> None:
        if self.ends_on < self.begins_on:
            raise CalcError("A fair ends on the day it begins, or later.", field="ends_on")
        if not 0 <= self.clear_days <= MOST_CLEAR_DAYS:
            raise CalcError(f"Keep from 0 to {MOST_CLEAR_DAYS} days clear before a fair.", field="clear_days")
        if self.begins_on.toordinal() <= self.clear_days:
            raise CalcError("That day lies before all calendars.", field="begins_on")

    @property
    def ready_on(self) -> date:
        """By this day all is woven and finished; labelling and packing come after it."""
        return self.begins_on - timedelta(days=self.clear_days)


@dataclass(frozen=True, slots=True)
class Making:
    """What is known of the days of one project. `order_on` is the earliest last day to order what it lacks.

    `wound`: its yarn is taken, so winding and ordering lie behind it; `off`: it is cut off; `ready`: it is finished.
    """

    winding_on: date | None = None
    off_on: date | None = None
    order_on: date | None = None
    wound: bool = False
    off: bool = False
    ready: bool = False


class Trouble(Enum):
    """What cannot be in time, or hardly. The days beside it say by how many."""

    ORDER_PAST = "the last day to order is past, by so many days"
    WINDING_PAST = "the winding day is past and it is not wound, by so many days"
    WINDING_LATE = "the winding day lies after the day to be ready, by so many days"
    OFF_PAST = "the day off the loom is past and it is not cut off, by so many days"
    OFF_LATE = "the day off the loom lies after the day to be ready, by so many days"
    NO_FINISHING = "it comes off the loom on the day to be ready: no day is left to finish it"
    READY_PAST = "the day to be ready is past and it is not ready, by so many days"


@dataclass(frozen=True, slots=True)
class CountedBack:
    """`weaving_days` lie between winding and the day off the loom, for dressing and weaving; `finishing_days` between
    that day and the day to be ready. None where a day is missing, or where it lies behind."""

    ready_on: date
    weaving_days: int | None
    finishing_days: int | None
    troubles: tuple[tuple[Trouble, int], ...]


def count_back(fair: FairDays, making: Making, today: date) -> CountedBack:
    """One project against one fair, on that day. What is done gives no trouble any more."""
    ready_on = fair.ready_on
    winding_on = None if making.wound or making.off or making.ready else making.winding_on
    off_on = None if making.off or making.ready else making.off_on
    found: list[tuple[Trouble, int]] = []

    def note(trouble: Trouble, late: date, limit: date) -> None:
        if late > limit:
            found.append((trouble, (late - limit).days))

    if making.order_on is not None and not (making.wound or making.off or making.ready):
        note(Trouble.ORDER_PAST, today, making.order_on)
    if winding_on is not None:
        note(Trouble.WINDING_PAST, today, winding_on)
        note(Trouble.WINDING_LATE, winding_on, ready_on)
    if off_on is not None:
        note(Trouble.OFF_PAST, today, off_on)
        note(Trouble.OFF_LATE, off_on, ready_on)
        if off_on == ready_on:
            found.append((Trouble.NO_FINISHING, 0))
    if not making.ready:
        note(Trouble.READY_PAST, today, ready_on)
    weaving = (off_on - winding_on).days if off_on and winding_on and off_on >= winding_on else None
    finishing = (ready_on - off_on).days if off_on and off_on <= ready_on else None
    return CountedBack(ready_on, weaving, finishing, tuple(found))
