"""The result of a stocktake: what was found, what the books were brought to, and what the stock is worth at cost."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction

from django.db.models import F, OuterRef, QuerySet, Subquery
from django.utils import timezone

from stash.calc.cost import cost_left
from stash.calc.quantity import half_up
from stash.calc.writing import Measures, decimal
from stash.models import Cone, Count, Entry, EntryKind, Finding, Stocktake
from stash.tables.differences import share_words
from stash.tables.stocktakes import count_words

CHECKING = (EntryKind.RECEIVED, EntryKind.WEIGHED, EntryKind.COUNTED)


@dataclass(frozen=True, slots=True)
class ReportLine:
    """One count as the report prints it; figures are text, "" where there is none."""

    count: Count
    books: str
    scale: str
    net: str
    change: str
    change_length: str
    share: str
    state: str


@dataclass(frozen=True, slots=True)
class Unchecked:
    """A cone that was not counted: what the books had of it, and when it was last weighed or came."""

    cone: Cone
    net_mg: int
    since: datetime | None


@dataclass(frozen=True, slots=True)
class Worth:
    """What the cones hold at cost: whole cents, and how many with yarn left have no price."""

    cents: int
    priced: int
    unpriced: int

    def words(self, currency: str) -> str:
        if self.unpriced and not self.priced:
            return "no price noted"
        return f"{decimal(Fraction(self.cents, 100), 2)} {currency}"


@dataclass(slots=True)
class Report:
    """Everything that the sheet prints. Of an open stocktake it is how things stand now."""

    stocktake: Stocktake
    lines: list[ReportLine] = field(default_factory=list)
    as_they_were: int = 0
    waiting: int = 0
    absent: int = 0
    estimates: int = 0
    unchecked: list[Unchecked] = field(default_factory=list)
    counted: int = 0
    more_mg: int = 0
    less_mg: int = 0
    worth: Worth = field(default_factory=lambda: Worth(0, 0, 0))

    @property
    def cones(self) -> int:
        return self.counted + len(self.unchecked)

    @property
    def change_mg(self) -> int:
        """By how much the books changed: the sum of what was accepted."""
        return self.more_mg + self.less_mg


def write_report(stocktake: Stocktake, measures: Measures) -> Report:
    """By a fixed number of queries."""
    report = Report(stocktake)
    until = stocktake.closed_at or timezone.now()
    counts = stocktake.counts.with_names().exclude(finding=Finding.PASSED)
    for count in counts.order_by(F("cone__place__name").asc(nulls_last=True), "cone__search", "cone"):
        report.counted += 1
        report.absent += count.finding == Finding.ABSENT
        report.estimates += count.is_estimate
        report.waiting += count.settled_at is None
        change_mg = count.entry.change_mg if count.entry else None
        if change_mg is not None:
            report.more_mg += max(0, change_mg)
            report.less_mg += min(0, change_mg)
        report.as_they_were += change_mg == 0
        if change_mg != 0 or count.note:
            report.lines.append(_line(count, measures))
    counted = stocktake.counts.exclude(finding=Finding.PASSED).values("cone")
    uncounted = stocktake.cones().exclude(pk__in=counted)
    uncounted = uncounted.with_names().annotate(
        then_mg=_last(until, "after_mg"), checked_at=_last(until, "at", kind__in=CHECKING)
    )
    report.unchecked = [Unchecked(cone, cone.then_mg or 0, cone.checked_at) for cone in uncounted]
    report.worth = worth_of(stocktake.cones(), until)
    return report


def _line(count: Count, measures: Measures) -> ReportLine:
    entry = count.entry
    # What the books said just before they followed, which differs from the day of counting where it was stale.
    books_mg = entry.after_mg - entry.change_mg if entry else count.books_mg
    net_mg = entry.after_mg if entry else count.net_mg or 0
    change_mg = net_mg - books_mg
    sign = "+" if change_mg > 0 else ""
    grist = count.cone.shade.yarn.grist
    if count.settled_at is None:
        state = "waits"
    elif entry is None:
        state = "books left"
    elif hasattr(entry, "undone_by"):
        state = "accepted, taken back later"
    else:
        state = "accepted"
    return ReportLine(
        count=count,
        books=measures.mass(books_mg),
        scale=count_words(count, measures),
        net=measures.mass(net_mg) if count.core_mg is not None else "",
        change=f"{sign}{measures.mass(change_mg)}" if change_mg else "none",
        change_length=f"{sign}{measures.long_length(grist.length_um_of(change_mg))}" if change_mg else "",
        share=share_words(change_mg, books_mg) if books_mg and change_mg else "",
        state=state,
    )


def worth_of(cones: QuerySet[Cone], until: datetime) -> Worth:
    """What these cones held at cost at that time, each in proportion to what was left of what came.

    What came is by its first weighing, with the core's mass as it is known now. One query.
    """
    received = Entry.objects.filter(cone=OuterRef("pk"), kind=EntryKind.RECEIVED).order_by("pk")
    rows = cones.annotate(
        left_mg=_last(until, "after_mg"),
        came_mg=Subquery(received.values("after_mg")[:1]),
        came_gross_mg=Subquery(received.values("gross_mg")[:1]),
    ).values_list("price_cents", "left_mg", "came_mg", "came_gross_mg", "core_mg", "labelled_mg")
    return _sum(rows)


def _sum(rows: Iterable[tuple[int | None, ...]]) -> Worth:
    cents, priced, unpriced = Fraction(0), 0, 0
    for price, left_mg, came_mg, came_gross_mg, core_mg, labelled_mg in rows:
        if not left_mg:
            continue
        if came_gross_mg is not None and core_mg is not None:
            came_mg = came_gross_mg - core_mg
        whole_mg = came_mg or labelled_mg
        if price is None or not whole_mg or whole_mg <= 0:
            unpriced += 1
            continue
        priced += 1
        cents += cost_left(price, left_mg, whole_mg)
    return Worth(half_up(cents), priced, unpriced)


def _last(until: datetime, what: str, **kinds: object) -> Subquery:
    """Of the last entry of each cone up to a time."""
    entries = Entry.objects.filter(cone=OuterRef("pk"), at__lte=until, **kinds).order_by("-pk")
    return Subquery(entries.values(what)[:1])
