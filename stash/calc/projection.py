"""Projection: what is free of a shade on every day to come, as far as it is known, and with usual use as an estimate.

Free today, and from then on by day: what is due in on the day on which it has come with the supplier's usual delay and
may be used, what comes out of quarantine, less what every job wants on its winding day, less usual use. Within one day
what comes in comes before what is wound: so it is for the last day to order too, which is the winding day less lead
time and delay. A job that only such an arrival serves is said (`on_the_day`).

Jobs count with their bare need, as a shortage does, unless told to count their buffers. What has no day is not on the
line, and is told apart: jobs without a winding day, orders without a due day, and parcels that are over their day by
more than the usual delay. A job whose winding day is past and of which nothing was wound counts today.

Usual use is so many mg a week, spread over the days so that whole weeks are exact: by the end of the d-th day from
today floor(week x d / 7) mg of it are gone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from stash.calc.errors import CalcError
from stash.calc.outlook import Arrival, Job, Outlook

YEAR = 365
MOST_DAYS = 3_660


class Kind(StrEnum):
    """What moves the line."""

    ARRIVAL = "arrival"
    CLEARING = "clearing"
    JOB = "job"


@dataclass(frozen=True, slots=True)
class Step:
    """One change of what is free. `id` is that of the order line, the cone or the project."""

    on: date
    kind: Kind
    id: int
    change_mg: int
    """Above 0 where it comes in."""
    after_mg: int
    """Free after it, usual use not counted."""
    name: str = ""
    """Of a job."""
    was_on: date | None = None
    """The day that is past, of a job that counts today."""


@dataclass(frozen=True, slots=True)
class Short:
    """From this day on less than nothing is free: so much, and the job that is first to go without, if it is one."""

    on: date
    mass_mg: int
    job: Step | None


@dataclass(frozen=True, slots=True)
class Lowest:
    """The least that is free, and the first day on which it is."""

    on: date
    mass_mg: int


@dataclass(frozen=True, slots=True)
class Projection:
    """From `today` to `until`, both among the days. All masses net mg.

    What is asked `usual=True` counts usual use as well, which is an estimate; else only what is known is counted.
    """

    today: date
    until: date
    opening_mg: int
    """Free now: before anything that today brings."""
    keep_mg: int | None
    week_mg: int
    """Usual use; 0 where there is no estimate."""
    steps: tuple[Step, ...]
    """By day; within one day what comes in first, then the jobs in their order."""
    undated: tuple[Job, ...]
    """Jobs without a winding day."""
    overdue: tuple[Arrival, ...]
    """What should have come by now, usual delay counted."""
    unknown_mg: int
    """On order for no known day."""

    def free_on(self, day: date, *, usual: bool = False) -> int:
        """At the end of that day; below 0 is a shortage. Raises CalcError for a day that is not among these."""
        if not self.today <= day <= self.until:
            raise CalcError("This day lies before today, or further ahead than was looked.", field="day")
        free = self.opening_mg
        for step in self.steps:
            if step.on > day:
                break
            free = step.after_mg
        return free - (self.used_by(day) if usual else 0)

    def used_by(self, day: date) -> int:
        """Usual use from tomorrow to the end of that day, in mg: an estimate."""
        return self.week_mg * (day - self.today).days // 7

    def first_below(self, level_mg: int, *, usual: bool = False) -> date | None:
        """The first day at whose end less than so much is free; None if there is none."""
        week_mg = self.week_mg if usual else 0
        for begun, ended, free_mg in self.stretches():
            over_mg = free_mg - level_mg
            if over_mg < 0:
                return begun
            if not week_mg:
                continue
            # floor(week x days / 7) is above `over` from the first whole day on which it can be.
            days = -(-7 * (over_mg + 1) // week_mg)
            if days <= (ended - self.today).days:
                return max(begun, self.today + timedelta(days=days))
        return None

    def lowest(self, *, usual: bool = False) -> Lowest:
        """What is left at worst."""
        least = min(free_mg - (self.used_by(ended) if usual else 0) for _, ended, free_mg in self.stretches())
        on = self.first_below(least + 1, usual=usual)
        assert on is not None, "the least stands on some day"
        return Lowest(on, least)

    def short(self, *, usual: bool = False) -> Short | None:
        """The first day on which less than nothing is free; None where there is none."""
        on = self.first_below(0, usual=usual)
        if on is None:
            return None
        job = None
        gone_mg = self.used_by(on) if usual else 0
        for step in self.steps:
            if step.on == on and step.kind == Kind.JOB and step.after_mg < gone_mg:
                job = step
                break
        return Short(on, -self.free_on(on, usual=usual), job)

    def keep_day(self, *, usual: bool = False) -> date | None:
        """The first day at whose end no more than the keep level is free."""
        return None if self.keep_mg is None else self.first_below(self.keep_mg + 1, usual=usual)

    def on_the_day(self) -> tuple[Step, ...]:
        """Jobs that only something coming in on their winding day itself serves: a day later is too late."""
        found = []
        came_mg, at = 0, self.today
        for step in self.steps:
            if step.on != at:
                came_mg, at = 0, step.on
            if step.kind == Kind.JOB:
                if 0 <= step.after_mg < came_mg:
                    found.append(step)
            else:
                came_mg += step.change_mg
        return tuple(found)

    def stretches(self) -> Iterator[tuple[date, date, int]]:
        """Days between which only usual use changes anything: the first, the last, and what is free but for that."""
        begun, free_mg = self.today, self.opening_mg
        for step in self.steps:
            if step.on > begun:
                yield begun, step.on - timedelta(days=1), free_mg
            begun, free_mg = step.on, step.after_mg
        yield begun, self.until, free_mg


def project(outlook: Outlook, *, today: date, days: int = YEAR, buffered: bool = False) -> Projection:
    """So many days ahead. Raises CalcError unless `days` is from 1 to ten years.

    `buffered` lets jobs take what they want with their buffers, which is what a reservation takes if it is there.
    """
    if not 1 <= days <= MOST_DAYS:
        raise CalcError(f"Look ahead from 1 to {MOST_DAYS:,} days.", field="days")
    until = today + timedelta(days=days)
    moves: list[tuple[date, int, int, Kind, int, int, str, date | None]] = []
    for at, arrival in enumerate(outlook.arrivals):
        if today <= arrival.late_on and arrival.free_on <= until:
            moves.append((arrival.free_on, 0, at, Kind.ARRIVAL, arrival.id, arrival.mass_mg, "", None))
    for at, clearing in enumerate(outlook.clearings):
        on = max(today, clearing.on)
        if on <= until:
            moves.append((on, 1, at, Kind.CLEARING, clearing.cone_id, clearing.mass_mg, "", None))
    for at, job in enumerate(outlook.jobs):
        wanted_mg = job.buffered_mg if buffered else job.bare_mg
        if job.on is None or job.on > until or not wanted_mg:
            continue
        was_on = job.on if job.on < today else None
        moves.append((max(today, job.on), 2, at, Kind.JOB, job.id, -wanted_mg, job.name, was_on))
    moves.sort(key=lambda move: move[:3])
    steps, free_mg = [], outlook.free_mg
    for on, _, _, kind, pk, change_mg, name, was_on in moves:
        free_mg += change_mg
        steps.append(Step(on, kind, pk, change_mg, free_mg, name, was_on))
    return Projection(
        today=today,
        until=until,
        opening_mg=outlook.free_mg,
        keep_mg=outlook.keep_mg,
        week_mg=outlook.use.week_mg if outlook.use else 0,
        steps=tuple(steps),
        undated=tuple(job for job in outlook.jobs if job.on is None),
        overdue=tuple(arrival for arrival in outlook.arrivals if arrival.late_on < today),
        unknown_mg=outlook.undated_mg,
    )
