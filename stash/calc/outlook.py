"""Outlook: what is known of one shade's future, before anything is worked out of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from stash.calc.errors import CalcError


@dataclass(frozen=True, slots=True)
class Job:
    """What a planned project needs of the shade beyond what it has reserved, on its winding day.

    `bare_mg` is the need itself, `buffered_mg` with the buffer; `on` is None where no day is set.
    """

    id: int
    name: str
    on: date | None
    rank: int
    bare_mg: int
    buffered_mg: int

    def __post_init__(self) -> None:
        if not 0 <= self.bare_mg <= self.buffered_mg:
            raise CalcError("A need is not below 0, nor more without its buffer than with it.", field="need")


@dataclass(frozen=True, slots=True)
class Arrival:
    """Yarn that is ordered and has not come: due on a day, and with the supplier's usual delay on `late_on`.

    Of animal fibre it is kept apart for `apart_days` after it came.
    """

    id: int
    due_on: date
    late_on: date
    mass_mg: int
    apart_days: int = 0

    def __post_init__(self) -> None:
        if self.mass_mg <= 0:
            raise CalcError("What is awaited weighs more than nothing.", field="mass_mg")
        if self.late_on < self.due_on:
            raise CalcError("With its delay a parcel comes no sooner than it is due.", field="late_on")
        if self.apart_days < 0:
            raise CalcError("Quarantine cannot be shorter than no day.", field="apart_days")

    @property
    def free_on(self) -> date:
        """The day from which it may be used."""
        return self.late_on + timedelta(days=self.apart_days)


@dataclass(frozen=True, slots=True)
class Clearing:
    """A cone in quarantine of which so much is held by no claim, and the day from which it may be used."""

    cone_id: int
    on: date
    mass_mg: int

    def __post_init__(self) -> None:
        if self.mass_mg <= 0:
            raise CalcError("What comes out of quarantine weighs more than nothing.", field="mass_mg")


@dataclass(frozen=True, slots=True)
class UsualUse:
    """An estimate from the ledger: so many mg a week on average for no project, and how far the weeks scatter.

    `weeks` is how long the ledger was looked at, `times` how often something was taken in that time.
    """

    week_mg: int
    sd_mg: int
    weeks: int
    times: int


@dataclass(frozen=True, slots=True)
class Taken:
    """What the ledger shows was taken for no project: in how many `weeks`, how many `times`, how many weeks `ago` last.

    Why there is an estimate of usual use, or why there is none.
    """

    weeks: int
    times: int
    ago: int | None


@dataclass(frozen=True, slots=True)
class Outlook:
    """One shade as it stands today: all masses net mg. `free_mg` is what no claim holds of cones fit for use."""

    shade_id: int
    free_mg: int
    keep_mg: int | None
    jobs: tuple[Job, ...] = ()
    """By need: the earliest day first, then rank; those without a day last."""
    arrivals: tuple[Arrival, ...] = ()
    """By day."""
    use: UsualUse | None = None
    """None where the ledger shows none."""
    undated_mg: int = 0
    """On order too, but nobody knows for which day: it is in `on_order_mg`, and no arrival."""
    clearings: tuple[Clearing, ...] = ()
    """By day: cones in quarantine are on hand, not free, and not on order. Those of which no end is known are not here."""

    taken: Taken | None = None
    """What `use` is estimated from, or why it is not."""

    @property
    def on_order_mg(self) -> int:
        return sum(arrival.mass_mg for arrival in self.arrivals) + self.undated_mg
