"""What Today says of the days: the next fair with what must start when, what must be ordered, and what arrives."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q

from projects.buying.last_days import LastDay
from projects.days import Dated, arrivals, ordered_by
from projects.fairs import Going, days_of, going_to, onward
from projects.models import Fair
from stash.calc.writing import Measures

ARRIVING = timedelta(days=14)
"""Parcels that are due within this time stand on Today."""
ORDERING = timedelta(days=28)
"""Last days to order within this time stand on Today."""
FAIR_AHEAD = timedelta(days=180)
"""A fair is spoken of half a year ahead: for the yarn of a spring fair one orders in winter."""


@dataclass(frozen=True, slots=True)
class NextFair:
    """The next fair, the projects that are not ready for it with their next step, and how many are."""

    fair: Fair
    days: int
    ready_on: date
    steps: Sequence[tuple[Going, str]]
    ready: int


def next_fair(order_days: Mapping[int, date], measures: Measures, today: date) -> NextFair | None:
    """The first that is not over, if it is not far off: five queries."""
    ahead = Q(ends_on__gte=today) | Q(ends_on=None, begins_on__gte=today)
    near = Fair.objects.filter(ahead, begins_on__lte=today + FAIR_AHEAD)
    fair = near.by_day().first()
    if fair is None:
        return None
    going = [
        one for one in going_to([fair], order_days, measures, today)[fair.pk] if not one.project.closed_at
    ]
    steps = [(one, onward(one, today)) for one in going if not one.making.ready]
    return NextFair(
        fair, (fair.begins_on - today).days, days_of(fair).ready_on, steps, len(going) - len(steps)
    )


def ordering_soon(lasts: Iterable[LastDay], today: date) -> list[Dated]:
    """What must be ordered within four weeks, or should have been: the first day first, and each shade once, since one
    order serves all that go without."""
    first: dict[int, LastDay] = {}
    for one in lasts:
        first.setdefault(one.shade_id, one)
    return [one for one in ordered_by(first.values(), today) if one.on <= today + ORDERING]


def arriving(today: date) -> list[Dated]:
    """Orders that are late, or due within two weeks: those that should be here first."""
    return sorted(
        (one for one in arrivals(today) if one.late or one.on <= today + ARRIVING),
        key=lambda one: (one.on, one.key),
    )
