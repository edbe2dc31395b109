"""Geometry of the chart of what is free from day to day: steps along the days, to scale.

Positions are whole ten-thousandths: across from the first day (0) to the end of the last (WIDTH), down from the top of the
plot (0) to its foot (HEIGHT), so that a drawing may be as wide as its page and no stroke is distorted.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from stash.calc.errors import CalcError
from stash.calc.projection import Projection, Step

WIDTH = HEIGHT = 10_000
LEAST_DAYS = 91
"""A quarter of a year is shown at least, however little is to come."""
MOST_TICKS = 5
MOST_ROWS = 5
LETTER = 95
"""Width of a letter of a name where the chart is 700 px wide; where it is narrower no names are drawn."""
MOST_LETTERS = 26


@dataclass(frozen=True, slots=True)
class Level:
    """From `start` to `end` so much is free, `y` down."""

    start: int
    end: int
    y: int


@dataclass(frozen=True, slots=True)
class Slope:
    """A straight line of the estimate."""

    start: int
    start_y: int
    end: int
    end_y: int


@dataclass(frozen=True, slots=True)
class Mark:
    """A step: where it is, from what height to what height, and in which row above the plot its name stands.

    Row 0 is the topmost; None where there is no room. The name ends at `x` instead of beginning there if `ends`.
    """

    step: Step
    name: str
    """Cut if it is long."""
    x: int
    y_before: int
    y_after: int
    row: int | None
    ends: bool


@dataclass(frozen=True, slots=True)
class Tick:
    mass_mg: int
    y: int


@dataclass(frozen=True, slots=True)
class Month:
    """The first of a month."""

    on: date
    x: int


@dataclass(frozen=True, slots=True)
class TimeChart:
    levels: tuple[Level, ...]
    """What is known; each begins where the one before ended."""
    slopes: tuple[Slope, ...]
    """With usual use, as far as there is anything to use; none where there is no estimate."""
    marks: tuple[Mark, ...]
    rows: int
    """How many rows of names there are."""
    zero_y: int
    keep_y: int | None
    """None where there is no keep level, or where it lies far above everything else."""
    level_y: int | None
    """The same of a computed level."""
    ticks: tuple[Tick, ...]
    months: tuple[Month, ...]
    until: date


def shown_until(projection: Projection) -> date:
    """The last day worth showing: a little after the last thing that is known to happen, or estimated to."""
    days = [step.on for step in projection.steps]
    for on in (projection.first_below(0, usual=True), projection.keep_day(usual=True)):
        if on is not None:
            days.append(on)
    last = max(((on - projection.today).days for on in days), default=0)
    shown = max(LEAST_DAYS, last + last // 8 + 7)
    return min(projection.until, projection.today + timedelta(days=shown))


def lay_out(
    projection: Projection,
    *,
    unit_mg: Fraction | int,
    name: Callable[[Step], str] | None = None,
    level_mg: int | None = None,
) -> TimeChart:
    """`unit_mg` is the unit in which the heights are ticked: a gram, an ounce. `name` says what stands at each step, and
    makes room for it; without one there are no names. `level_mg` is a computed level beside the keep level.

    Raises CalcError unless the unit is more than nothing.
    """
    if unit_mg <= 0:
        raise CalcError("The unit of the heights is more than nothing.", field="unit_mg")
    until = shown_until(projection)
    days = (until - projection.today).days + 1

    def across(on: date) -> int:
        return (on - projection.today).days * WIDTH // days

    steps = [step for step in projection.steps if step.on <= until]
    stretches = [
        (begun, min(ended, until), free) for begun, ended, free in projection.stretches() if begun <= until
    ]
    heights = [projection.opening_mg, *(free for _, _, free in stretches)]
    highest, lowest = max(heights), min(0, *heights)
    most = max(3 * highest, -lowest, 1)
    keep_mg, level_mg = (
        mass_mg if mass_mg is not None and mass_mg <= most else None
        for mass_mg in (projection.keep_mg, level_mg)
    )
    highest = max(highest, keep_mg or 0, level_mg or 0)
    ticks = _ticks(lowest, max(highest, int(unit_mg), 1), unit_mg)
    top, foot = max(highest, ticks[-1]), min(lowest, ticks[0])
    # A little air, so that no line lies on the edge.
    top += (top - foot) // 20
    if foot < 0:
        foot -= (top - foot) // 20
    span = top - foot

    def down(mass_mg: int) -> int:
        return (top - mass_mg) * HEIGHT // span

    levels = tuple(
        Level(across(begun), across(ended + timedelta(days=1)), down(free))
        for begun, ended, free in stretches
    )
    marks = _marks(steps, projection.opening_mg, across, down, name)
    return TimeChart(
        levels=levels,
        slopes=_slopes(projection, stretches, lowest, across, down) if projection.week_mg else (),
        marks=marks,
        rows=max((mark.row + 1 for mark in marks if mark.row is not None), default=0),
        zero_y=down(0),
        keep_y=None if keep_mg is None else down(keep_mg),
        level_y=None if level_mg is None else down(level_mg),
        ticks=tuple(Tick(mass_mg, down(mass_mg)) for mass_mg in ticks),
        months=tuple(Month(on, across(on)) for on in _months(projection.today, until)),
        until=until,
    )


def _slopes(
    projection: Projection,
    stretches: Sequence[tuple[date, date, int]],
    lowest: int,
    across: Callable[[date], int],
    down: Callable[[int], int],
) -> tuple[Slope, ...]:
    """The estimate, down to the least that is known or to nought: what is not there is not usually used either."""
    found: list[Slope] = []
    last = None
    for begun, ended, free in stretches:
        start, end = across(begun), across(ended + timedelta(days=1))
        first, second = free - projection.used_by(begun), free - projection.used_by(ended)
        if last is not None and max(last, first) > lowest:
            found.append(Slope(start, down(max(last, lowest)), start, down(max(first, lowest))))
        last = second
        if first <= lowest:
            continue
        if second < lowest:
            end = start + (end - start) * (first - lowest) // (first - second)
            second = lowest
        found.append(Slope(start, down(first), end, down(second)))
    return tuple(found)


def _ticks(lowest: int, highest: int, unit_mg: Fraction | int) -> list[int]:
    """Round heights in mg, nought among them: at most five steps, 1, 2 or 5 times a power of ten units apart."""
    apart = Fraction(unit_mg)
    while True:
        for times in (1, 2, 5):
            step = apart * times
            if (highest - lowest) / step <= MOST_TICKS:
                first, last = -(-lowest // step), highest // step
                return [round(number * step) for number in range(int(first), int(last) + 1)]
        apart *= 10


def _months(first: date, last: date) -> list[date]:
    found: list[date] = []
    on = first
    while True:
        on = (on.replace(day=1) + timedelta(days=32)).replace(day=1)
        if on > last:
            return found
        found.append(on)


def _rows_of(places: Sequence[tuple[int, int]]) -> list[tuple[int | None, bool]]:
    """For names beginning at an x and so wide, from left to right: the row of each, and whether it ends at x instead.

    From a name a line goes down to its step, so below it, in the rows nearer to the plot, no other name may cross that x.
    """
    right = [0] * MOST_ROWS
    found: list[tuple[int | None, bool]] = []
    last_x = 0
    for x, width in places:
        if x + width <= WIDTH:
            row = next(
                (at for at in range(MOST_ROWS) if all(edge <= x for edge in right[at:])),
                None,
            )
            if row is not None:
                right[row] = x + width + LETTER
            found.append((row, False))
        elif x - width >= max(*right, last_x):
            right = [x + LETTER] * MOST_ROWS
            found.append((0, True))
        else:
            found.append((None, False))
        last_x = x
    return found


def _marks(
    steps: Sequence[Step],
    opening_mg: int,
    across: Callable[[date], int],
    down: Callable[[int], int],
    name: Callable[[Step], str] | None,
) -> tuple[Mark, ...]:
    names = [_cut(name(step)) if name else "" for step in steps]
    places = [(across(step.on), LETTER * (len(text) + 1)) for step, text in zip(steps, names, strict=True)]
    rows = _rows_of(places) if name else [(None, False)] * len(steps)
    befores = [opening_mg, *(step.after_mg for step in steps)]
    return tuple(
        Mark(step, text, x, down(before), down(step.after_mg), row, ends)
        for step, text, (x, _), before, (row, ends) in zip(
            steps, names, places, befores[:-1], rows, strict=True
        )
    )


def _cut(text: str) -> str:
    return text if len(text) <= MOST_LETTERS else f"{text[: MOST_LETTERS - 1].rstrip()}…"
