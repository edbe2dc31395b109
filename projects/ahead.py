"""What lies ahead of a shade as pages show it: in a sentence, as a chart, and day by day.

A shortage is one of bare needs, as in a verdict; where only the buffers of jobs are not covered it is called tight. What
rests on usual use is an estimate, and says so. What is missing is rounded up, what is free is rounded down.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.urls import reverse
from django.utils.formats import date_format

from projects.wording import counted, together
from stash.calc.grist import Grist
from stash.calc.lumpy import TooLittle, too_little
from stash.calc.outlook import Outlook, Taken
from stash.calc.projection import Kind, Projection, Step, project
from stash.calc.quantity import UNIT_OF_WORD
from stash.calc.time_chart import TimeChart, lay_out
from stash.calc.writing import Measures
from stash.models import OrderLine, Shade

FAR_DAYS = 60
"""Further ahead no day of an estimate is named, only its month."""


@dataclass(frozen=True, slots=True)
class Row:
    """One day's event, in words. `after` is what is then free, `estimate` the same with usual use counted; "" for none."""

    on: date
    what: str
    address: str
    note: str
    change: str
    after: str
    estimate: str
    lacking: bool


@dataclass(frozen=True, slots=True)
class Ahead:
    """`state` is short, tight, enough, or quiet where no job wants any: also the class by which pages colour it. `lead`
    says it in one sentence, `more` what else is known. `label` is what is said of the chart to those who do not see it.
    """

    shade: Shade
    projection: Projection
    chart: TimeChart
    state: str
    free: str
    lead: str
    more: tuple[str, ...]
    falls: str
    """When no more than the keep level is free, what is on order counted only when it comes; "" for never."""
    rows: Sequence[Row]
    keep: str
    """The keep level in figures; "" for none."""
    level: str
    """The computed level in figures; "" for none."""
    heights: Sequence[tuple[int, str]]
    """The chart's ticks: how far down, and what stands there."""

    @property
    def colour(self) -> str:
        return self.shade.colour

    @property
    def says_anything(self) -> bool:
        """Is there anything to draw: does a day change what is free, or is there a level to keep?"""
        found = self.projection
        return bool(found.steps or found.week_mg or found.keep_mg)

    @property
    def has_estimate(self) -> bool:
        return bool(self.projection.week_mg)

    @property
    def lacks(self) -> bool:
        return any(row.lacking for row in self.rows)

    @property
    def label(self) -> str:
        return f"{self.free} {self.lead}"


@dataclass(frozen=True, slots=True)
class _Due:
    """What is said of an order line that something is awaited of. `apart_on` is the day on which it is due where it is
    kept apart after that, and None where it is free at once."""

    order_id: int
    supplier: str
    apart_on: date | None


def aheads(
    shades: Iterable[Shade],
    outlooks: Mapping[int, Outlook],
    measures: Measures,
    *,
    today: date,
    levels: Mapping[int, int] | None = None,
) -> dict[int, Ahead]:
    """By shade, for those of these that have an outlook; one query for the orders they name. The shades come with
    their yarns. `levels` has computed levels in mg, to be drawn beside the keep level.
    """
    wanted = [shade for shade in shades if shade.pk in outlooks]
    lines = {arrival.id: arrival for shade in wanted for arrival in outlooks[shade.pk].arrivals}
    rows = OrderLine.objects.filter(pk__in=set(lines)).order_by() if lines else OrderLine.objects.none()
    dues = {
        pk: _Due(order_id, supplier, lines[pk].due_on if lines[pk].apart_days else None)
        for pk, order_id, supplier in rows.values_list("pk", "order_id", "order__supplier__name")
    }
    return {
        shade.pk: _ahead(shade, outlooks[shade.pk], dues, measures, today, (levels or {}).get(shade.pk))
        for shade in wanted
    }


def _ahead(
    shade: Shade,
    outlook: Outlook,
    dues: Mapping[int, _Due],
    measures: Measures,
    today: date,
    level_mg: int | None,
) -> Ahead:
    found = project(outlook, today=today)
    words = _Words(measures, shade.yarn.grist, today)
    state, lead = words.verdict(found, project(outlook, today=today, buffered=True))
    unit = _unit(found, measures)
    chart = lay_out(found, unit_mg=unit, name=lambda step: step.name or _word(step, dues), level_mg=level_mg)
    return Ahead(
        shade=shade,
        projection=found,
        chart=chart,
        state=state,
        free=f"Free now: {words.free(found.opening_mg)}.",
        lead=lead,
        more=tuple(words.more(found, outlook, dues)),
        falls=words.falls(found),
        rows=[words.row(found, step, dues) for step in found.steps],
        keep="" if found.keep_mg is None else measures.mass(found.keep_mg),
        level=measures.mass(level_mg, "up") if level_mg else "",
        heights=[(tick.y, measures.mass(tick.mass_mg)) for tick in chart.ticks],
    )


def _unit(found: Projection, measures: Measures) -> Fraction:
    """Heights are ticked in grams, or in ounces until a pound is the better unit."""
    if measures.mass_in == "g":
        return Fraction(1_000)
    ounce = UNIT_OF_WORD["oz"].size
    most = max([found.opening_mg, *(abs(step.after_mg) for step in found.steps)])
    return Fraction(ounce if most < 64 * ounce else 16 * ounce)


def _word(step: Step, dues: Mapping[int, _Due]) -> str:
    if step.kind == Kind.ARRIVAL and step.id in dues and dues[step.id].apart_on:
        return "order out of quarantine"
    return {Kind.ARRIVAL: "order comes", Kind.CLEARING: "out of quarantine", Kind.JOB: "job"}[step.kind]


@dataclass(frozen=True, slots=True)
class _Words:
    """Of one shade, in the studio's units."""

    measures: Measures
    grist: Grist
    today: date

    def day(self, on: date) -> str:
        """8 September; 8 February 2027 where it is another year."""
        if on == self.today:
            return "today"
        return date_format(on, "j F" if on.year == self.today.year else "j F Y")

    def since(self, on: date) -> str:
        return "from today" if on == self.today else f"from {self.day(on)}"

    def free(self, mass_mg: int) -> str:
        """1,200 g (8,130 yd)."""
        length = self.measures.long_length(self.grist.length_um_of(mass_mg), "down")
        return f"{self.measures.mass(mass_mg, 'down')} ({length})"

    def short(self, mass_mg: int) -> str:
        length = self.measures.long_length(self.grist.length_um_of(mass_mg), "up")
        return f"{self.measures.mass(mass_mg, 'up')} ({length})"

    def verdict(self, found: Projection, buffered: Projection) -> tuple[str, str]:
        short = found.short()
        if short:
            why = f", when {short.job.name} is wound" if short.job else ""
            words = f"Short {self.since(short.on)} by {self.short(short.mass_mg)}{why}."
            worst = found.lowest()
            if -worst.mass_mg > short.mass_mg:
                words += f" At worst {self.short(-worst.mass_mg)} are lacking, {self.since(worst.on)}."
            return "short", words
        jobs = [step for step in found.steps if step.kind == Kind.JOB]
        tight = buffered.short()
        if tight:
            return "tight", (
                f"By weight every job is covered, but not with its buffer: {self.since(tight.on)} "
                f"{self.short(tight.mass_mg)} of buffer are lacking."
            )
        if not jobs:
            return "quiet", "No job with a winding day wants any of it."
        least = found.lowest()
        one = (
            "By weight the job to come is"
            if len(jobs) == 1
            else f"By weight all {len(jobs)} jobs to come are"
        )
        if least.on == self.today:
            return "enough", f"{one} covered, and never is less free than today."
        left = f"at the least {self.free(least.mass_mg)} stay free, {self.since(least.on)}"
        return "enough", f"{one} covered; {left}."

    def more(self, found: Projection, outlook: Outlook, dues: Mapping[int, _Due]) -> list[str]:
        told = [self._estimate(found, outlook)]
        told += [
            f"{step.name} counts today: its winding day, {date_format(step.was_on, 'j F Y')}, is past."
            for step in found.steps
            if step.was_on
        ]
        told += [
            f"{step.name} is served only by what comes in on its winding day itself, {self.day(step.on)}."
            for step in found.on_the_day()
        ]
        if found.undated:
            wanted = sum(job.bare_mg for job in found.undated)
            names = together(job.name for job in found.undated[:4])
            others = len(found.undated) - 4
            names += f" and {counted(others, 'other')}" if others > 0 else ""
            told.append(f"Without a winding day, and so not counted: {names}, {self.short(wanted)}.")
        for arrival in found.overdue:
            due = dues.get(arrival.id)
            of = f" of {due.supplier}" if due else ""
            told.append(
                f"Overdue and not counted: {self.measures.mass(arrival.mass_mg)}{of}, due on "
                f"{date_format(arrival.due_on, 'j F Y')}."
            )
        if found.unknown_mg:
            told.append(
                f"On order for no known day, and so not counted: {self.measures.mass(found.unknown_mg)}."
            )
        return [words for words in told if words]

    def falls(self, found: Projection) -> str:
        on = found.keep_day()
        if on is None:
            return ""
        level = self.measures.mass(found.keep_mg or 0)
        return (
            f"No more than the keep level of {level} is free {'now' if on == self.today else self.since(on)}."
        )

    def _estimate(self, found: Projection, outlook: Outlook) -> str:
        if not outlook.use or not outlook.taken:
            return _no_estimate(outlook.taken)
        use = outlook.use
        words = (
            f"Usual use is about {self.measures.mass(use.week_mg)} a week: an estimate from {counted(use.times, 'taking')} "
            f"for no project in {counted(use.weeks, 'week')}."
        )
        short, known = found.first_below(0, usual=True), found.first_below(0)
        keep, known_keep = found.keep_day(usual=True), found.keep_day()
        if short and short != known and found.opening_mg:
            return f"{words} With it nothing is left {self.about(short)}."
        if keep and keep != known_keep:
            return f"{words} With it the keep level is reached {self.about(keep)}."
        return words

    def about(self, on: date) -> str:
        """Of an estimate: about 3 January, but in about March where that is far ahead."""
        if (on - self.today).days <= FAR_DAYS:
            return f"about {self.day(on)}"
        return f"in about {date_format(on, 'F' if on.year == self.today.year else 'F Y')}"

    def row(self, found: Projection, step: Step, dues: Mapping[int, _Due]) -> Row:
        what, address, note = step.name, "", ""
        if step.kind == Kind.JOB:
            address = reverse("project-page", args=[step.id])
            note = f"winding day {date_format(step.was_on, 'j F Y')} is past" if step.was_on else ""
        elif step.kind == Kind.CLEARING:
            what, address = "A cone comes out of quarantine", reverse("cone-page", args=[step.id])
        else:
            due = dues.get(step.id)
            what = f"Order of {due.supplier} comes" if due else "An order comes"
            address = reverse("order-page", args=[due.order_id]) if due else ""
            note = "usual delay counted"
            if due and due.apart_on:
                what = f"Order of {due.supplier} comes out of quarantine"
                note = f"due {self.day(due.apart_on)}; usual delay and quarantine counted"
        after = step.after_mg - found.used_by(step.on)
        mass = self.measures.mass
        return Row(
            on=step.on,
            what=what,
            address=address,
            note=note,
            change=f"+{mass(step.change_mg, 'down')}" if step.change_mg > 0 else mass(step.change_mg, "down"),
            after=mass(step.after_mg, "down"),
            estimate=f"about {mass(after, 'down')}" if found.week_mg else "",
            lacking=step.after_mg < 0,
        )


def _no_estimate(taken: Taken | None) -> str:
    """Why no use is called usual; "" where there is nothing to say at all."""
    if taken is None:
        return ""
    why = too_little(taken)
    if why == TooLittle.NOTHING:
        return ""
    times = counted(taken.times, "taking")
    if why == TooLittle.SHORT:
        return f"Usual use is not known yet: {times} for no project in only {counted(taken.weeks, 'week')}."
    if why == TooLittle.FEW:
        return f"Usual use is not known: only {times} for no project in {counted(taken.weeks, 'week')}."
    return "Nothing was taken for no project for a year: no use is counted as usual."
