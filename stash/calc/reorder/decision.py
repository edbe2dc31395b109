"""What decides when a shade is ordered: a job on the calendar, or the level to which usual use has brought it.

Jobs go first: the last day to order for a job is its winding day less the supplier's lead time and usual delay, and
for animal fibre less the quarantine too. A level is reached on the day at whose end what is free, on order and in
quarantine until a known day is at or below it; jobs that will be served take their yarn until then, those that are
short do not, since they are ordered for on their own. The sooner of the two decides, and a job on the same day.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from stash.calc.errors import CalcError
from stash.calc.outlook import Job, Outlook
from stash.calc.projection import project
from stash.calc.reorder.level import Level, reorder_level

AHEAD_DAYS = 730
"""How far ahead a level is looked for."""


@dataclass(frozen=True, slots=True)
class Times:
    """From the order to the day on which the yarn may be wound; `lead_days` None where nobody knows."""

    lead_days: int | None
    late_days: int = 0
    quarantine_days: int = 0

    def __post_init__(self) -> None:
        if min(self.lead_days or 0, self.late_days, self.quarantine_days) < 0:
            raise CalcError("A parcel takes no fewer than 0 days.", field="lead_days")

    @property
    def all_days(self) -> int | None:
        if self.lead_days is None:
            return None
        return self.lead_days + self.late_days + self.quarantine_days

    def last_day_for(self, on: date) -> date | None:
        """The last day to order for what is wound on that day; None where the lead time is not known."""
        return None if self.all_days is None else _moved(on, -self.all_days)

    def here_on(self, ordered: date) -> date | None:
        """When it may be wound if it is ordered that day and comes as late as usual."""
        return None if self.all_days is None else _moved(ordered, self.all_days)


def _moved(on: date, days: int) -> date:
    """So many days on, or the first or the last day of the calendar where it does not reach so far."""
    return date.fromordinal(min(max(on.toordinal() + days, 1), date.max.toordinal()))


@dataclass(frozen=True, slots=True)
class Short:
    """A job that will go without, and so much of its need in mg; `tight` where it is the buffer alone that is missing."""

    job_id: int
    name: str
    on: date | None
    mass_mg: int
    tight: bool = False


def short_by_mass(outlook: Outlook, *, today: date) -> list[Short]:
    """Jobs that go without by mass alone, whole ends and lots not asked about: each takes what is there on its day,
    those without a day last, and usual use goes on until then.
    """
    found = []
    taken_mg = 0
    for job in outlook.jobs:
        day = max(job.on, today) if job.on else None
        came_mg = sum(
            one.mass_mg
            for one in outlook.arrivals
            if day is None or (today <= one.late_on and one.free_on <= day)
        ) + sum(one.mass_mg for one in outlook.clearings if day is None or one.on <= day)
        used_mg = outlook.use.week_mg * (day - today).days // 7 if outlook.use and day else 0
        there_mg = max(0, outlook.free_mg + came_mg - used_mg - taken_mg)
        if there_mg < job.bare_mg:
            found.append(Short(job.id, job.name, job.on, job.bare_mg - there_mg))
        elif there_mg < job.buffered_mg:
            found.append(Short(job.id, job.name, job.on, job.buffered_mg - there_mg, tight=True))
        taken_mg += min(there_mg, job.buffered_mg)
    return found


@dataclass(frozen=True, slots=True)
class Reached:
    """The level in force, and the first day on which it is reached; None where that is further off than is looked."""

    mg: int
    kept: bool
    """The keep level that a person chose; else the computed one, which is an estimate."""
    on: date | None
    computed: Level | None
    """Also where a person chose another."""


@dataclass(frozen=True, slots=True)
class Decision:
    """`by` says what decides; None where nothing asks for an order. `order_by` None: it cannot be said."""

    by: Literal["job", "level"] | None
    order_by: date | None
    job: Short | None
    """The first that is short, whatever decides."""
    level: Reached | None

    def late_by(self, today: date) -> int:
        """Days since the last day to order."""
        return max(0, (today - self.order_by).days) if self.order_by else 0


def decide(
    outlook: Outlook, shorts: Sequence[Short], times: Times, *, today: date, sure_ppm: int
) -> Decision:
    """`shorts` are the jobs that go without, in the order of their days. Raises CalcError."""
    level = level_of(outlook, times, today=today, sure_ppm=sure_ppm, short={one.job_id for one in shorts})
    asking = [one for one in shorts if not one.tight] or list(shorts)
    last_days = [(last, one) for one in asking if one.on and (last := times.last_day_for(one.on))]
    if last_days:
        last, job = min(last_days, key=lambda pair: pair[0])
        if level is None or level.on is None or last <= max(level.on, today):
            return Decision("job", last, job, level)
    elif asking and (level is None or level.on is None or level.on > today):
        return Decision("job", None, asking[0], level)
    if level and level.on:
        return Decision("level", level.on, asking[0] if asking else None, level)
    return Decision(None, None, None, level)


def clearing_mg(outlook: Outlook) -> int:
    """What comes out of quarantine on a known day: it is here, and is not to be ordered again."""
    return sum(one.mass_mg for one in outlook.clearings)


def position_mg(outlook: Outlook) -> int:
    """What a level is held against: free, on order, and in quarantine until a known day."""
    return outlook.free_mg + outlook.on_order_mg + clearing_mg(outlook)


def wound_mg(outlook: Outlook, today: date, short: Collection[int] = ()) -> int:
    """What jobs take that are to be wound by today; `short` ones take nothing."""
    due = (job for job in outlook.jobs if job.on and job.on <= today and job.id not in short)
    return sum(job.bare_mg for job in due)


def level_of(
    outlook: Outlook, times: Times, *, today: date, sure_ppm: int, short: Collection[int] = ()
) -> Reached | None:
    """The keep level, else the computed one; None where there is neither. `short` jobs take nothing until then."""
    computed = computed_level(outlook, times, sure_ppm=sure_ppm)
    mg = outlook.keep_mg or (computed.mg if computed else None)
    if not mg:
        return None
    jobs: tuple[Job, ...] = tuple(job for job in outlook.jobs if job.id not in short)
    position = replace(
        outlook,
        free_mg=position_mg(outlook),
        jobs=jobs,
        arrivals=(),
        undated_mg=0,
        clearings=(),
    )
    ahead = project(position, today=today, days=AHEAD_DAYS)
    return Reached(mg, outlook.keep_mg is not None, ahead.first_below(mg + 1, usual=True), computed)


def computed_level(outlook: Outlook, times: Times, *, sure_ppm: int) -> Level | None:
    """Offered beside the keep level; None where usual use or the lead time is not known. Quarantine is lead time: it is
    sure to pass."""
    if not outlook.use or not outlook.use.week_mg or times.lead_days is None:
        return None
    return reorder_level(outlook.use, times.lead_days + times.quarantine_days, times.late_days, sure_ppm)


def needed_for_level(outlook: Outlook, level_mg: int, mass_mg: int, *, taken_mg: int = 0) -> int:
    """Whole put-ups of that net mass that bring what is there and on order above the level; `taken_mg` is what jobs take
    of it besides."""
    missing_mg = level_mg + 1 + taken_mg - position_mg(outlook)
    return max(0, -(-missing_mg // mass_mg))
