"""Days as the page shows them: what is late, what is now, then month by month."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from projects.days import Dated


@dataclass(frozen=True, slots=True)
class Month:
    first: date
    rows: Sequence[Dated]


@dataclass(frozen=True, slots=True)
class Laid:
    """`late` first; `now` is what falls on today, or goes on today; `months` are what comes, by the month."""

    late: Sequence[Dated]
    now: Sequence[Dated]
    months: Sequence[Month]


def lay_out(days: Iterable[Dated], today: date) -> Laid:
    late, now = [], []
    months: dict[date, list[Dated]] = {}
    for one in days:
        if one.late:
            late.append(one)
        elif one.on <= today:
            now.append(one)
        else:
            months.setdefault(one.on.replace(day=1), []).append(one)
    return Laid(late, now, [Month(first, months[first]) for first in sorted(months)])
