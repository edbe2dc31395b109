"""The proposed orders as the page shows them: one to a supplier, a line to a shade."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Max

from projects.ahead import Ahead, aheads
from projects.buying import words
from projects.buying.deciding import Asking, Choice, Coming, decide_all
from projects.buying.gathering import Scene, gather
from projects.wording import counted
from stash.calc.writing import Measures
from stash.models import Lot, OrderLine, OrderLot, PutUp, Shade, Studio, Supplier
from stash.tables.orders import amount, packages
from stash.tables.shades import ShadeData, ShadeLine

SOON_DAYS = 90
MOST_SOON = 20


@dataclass(frozen=True, slots=True)
class Line:
    """One shade that is proposed, with its texts. `seen` is the last order line of the shade when this was made."""

    asking: Asking
    choice: Choice
    put_up: PutUp
    shade: Shade
    stock: ShadeLine
    ahead: Ahead
    what: str
    """cone of 454 g"""
    decides: str
    wanted: str
    why: str
    used: str
    late: str
    matched: str
    reason: str
    others: tuple[str, ...]
    lots: tuple[tuple[str, str], ...]
    lot: str
    seen: int

    @property
    def pk(self) -> int:
        return self.shade.pk

    @property
    def number(self) -> int:
        return self.choice.counted.number

    @property
    def order_by(self) -> date | None:
        return self.choice.decision.order_by

    @property
    def state(self) -> str:
        """short where it comes too late, tight where it is the buffer or an estimate alone."""
        if self.choice.late_days:
            return "short"
        return "" if self.asking.must else "tight"


@dataclass(frozen=True, slots=True)
class Proposed:
    """One order."""

    supplier: Supplier
    currency: str
    lines: tuple[Line, ...]
    order_id: int | None
    """An order to them that is being written: the lines go there."""
    begun_cents: int

    @property
    def order_by(self) -> date | None:
        return min((line.order_by for line in self.lines if line.order_by and line.asking.must), default=None)

    def sums(self, numbers: Mapping[int, int], scene: Scene) -> "Sums":
        """With so many of each shade; those that are not named are not ordered."""
        value, unpriced = self.begun_cents, 0
        for line in self.lines:
            number = numbers.get(line.pk, 0)
            cost = line.choice.offered.cost_of(number) if number else 0
            value += cost or 0
            unpriced += cost is None
        terms = scene.terms_of(self.supplier.pk)
        carriage = terms.carriage_of(value)
        under, free = terms.under_minimum(value), terms.under_free(value)
        return Sums(
            goods=amount(value, self.currency),
            begun=amount(self.begun_cents, self.currency) if self.begun_cents else "",
            unpriced=unpriced,
            carriage=amount(carriage, self.currency) if terms.carriage_cents is not None else "",
            all=amount(value + carriage, self.currency),
            under=""
            if not under
            else f"{amount(under, self.currency)} under the minimum of {amount(terms.minimum_cents or 0, self.currency)}.",
            free="" if not free else f"For {amount(free, self.currency)} more, carriage costs nothing.",
        )


@dataclass(frozen=True, slots=True)
class Sums:
    """What an order comes to; "" where there is nothing to say."""

    goods: str
    begun: str
    unpriced: int
    carriage: str
    all: str
    under: str
    free: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """A shade that cannot be proposed: nobody sells it, it is no more made, or it stands in an order being written."""

    asking: Asking
    shade: Shade
    wanted: str
    decides: str
    order_by: date | None

    @property
    def of_a_cone(self) -> bool:
        """Is one very cone wished for?"""
        short = {one.job_id for one in self.asking.shorts}
        return any(job.need.wish == "cone" and job.id in short for job in self.asking.around.jobs)


@dataclass(frozen=True, slots=True)
class Page:
    scene: Scene
    proposed: tuple[Proposed, ...]
    unsold: tuple[Waiting, ...]
    no_more: tuple[Waiting, ...]
    not_helped: tuple[Waiting, ...]
    """No put-up of any number serves them: one very cone is wished for, or what is sold is too small for an end."""
    written: tuple[Waiting, ...]
    awaited: tuple[Waiting, ...]
    """Of these an order is late."""
    dayless: tuple[Waiting, ...]
    """Of these nobody knows when an order comes."""
    soon: tuple[tuple[Shade, Coming], ...]
    lead: str


def buying_page(today: date, studio: Studio, measures: Measures) -> Page:
    """All of it in a fixed number of queries."""
    scene = gather(today, studio=studio)
    asking, coming = decide_all(scene)
    until = today + timedelta(days=SOON_DAYS)
    soon = [one for one in coming if one.decision.order_by and one.decision.order_by <= until][:MOST_SOON]
    ids = {one.shade_id for one in asking} | {one.around.shade_id for one in soon}
    shades = {shade.pk: shade for shade in Shade.objects.filter(pk__in=ids).select_related("yarn")}
    chosen = [one for one in asking if one.chosen]
    lines = _lines(scene, chosen, shades, measures)
    waiting: dict[str, list[Waiting]] = {
        "unsold": [],
        "no_more": [],
        "not_helped": [],
        "written": [],
        "awaited": [],
        "dayless": [],
    }
    for one in asking:
        if one.chosen:
            continue
        if one.covered:
            kind = "written" if one.around.written else "awaited" if one.around.overdue else "dayless"
        elif one.around.no_more_on:
            kind = "no_more"
        else:
            kind = "not_helped" if one.around.offers else "unsold"
        waiting[kind].append(_waiting(one, shades[one.shade_id], scene, measures))
    return Page(
        scene,
        _proposed(scene, lines),
        *(
            tuple(waiting[kind])
            for kind in ("unsold", "no_more", "not_helped", "written", "awaited", "dayless")
        ),
        tuple((shades[one.around.shade_id], one) for one in soon),
        _lead(asking, today),
    )


def _waiting(one: Asking, shade: Shade, scene: Scene, measures: Measures) -> Waiting:
    return Waiting(
        one,
        shade,
        words.wanted_by(one, scene.today, measures),
        words.decides(one, None, scene, measures),
        one.decision.order_by,
    )


def _lines(
    scene: Scene, asking: Sequence[Asking], shades: Mapping[int, Shade], measures: Measures
) -> list[Line]:
    ids = [one.shade_id for one in asking]
    stock = {row.pk: row for row in ShadeData(Shade.objects.filter(pk__in=ids).with_stock(), measures)[:]}
    ahead = aheads(
        [shades[pk] for pk in ids],
        {pk: scene.shades[pk].outlook for pk in ids},
        measures,
        today=scene.today,
    )
    seen = last_lines(ids)
    lots: dict[int, list[tuple[int, str]]] = {}
    for pk, shade_id, name in (
        Lot.objects.filter(shade__in=ids).order_by("-pk").values_list("pk", "shade", "name")
    ):
        lots.setdefault(shade_id, []).append((pk, name))
    return [
        _line(
            one,
            scene,
            shades[one.shade_id],
            stock[one.shade_id],
            ahead[one.shade_id],
            lots.get(one.shade_id, []),
            seen.get(one.shade_id, 0),
            measures,
        )
        for one in asking
    ]


def last_lines(shade_ids: Collection[int]) -> dict[int, int]:
    """The newest order line of each shade, whatever became of its order: what tells an old proposal from a new one."""
    rows = OrderLine.objects.filter(shade__in=shade_ids).order_by().values_list("shade")
    return dict(rows.annotate(last=Max("pk")))


def _line(
    one: Asking,
    scene: Scene,
    shade: Shade,
    stock: ShadeLine,
    ahead: Ahead,
    lots: Sequence[tuple[int, str]],
    seen: int,
    measures: Measures,
) -> Line:
    choice = one.chosen
    assert choice is not None, "only what somebody sells is proposed"
    put_up = scene.put_ups[choice.offered.id]
    currency = scene.currency_of(put_up.supplier_id)
    why = words.why_so_many(choice, put_up, currency)
    text = "; ".join(why)
    used = words.use_words(one, measures)
    return Line(
        asking=one,
        choice=choice,
        put_up=put_up,
        shade=shade,
        stock=stock,
        ahead=ahead,
        what=packages(1, put_up.form, put_up.mass_mg, measures).removeprefix("1 "),
        decides=words.decides(one, choice, scene, measures),
        wanted=words.wanted_by(one, scene.today, measures),
        why=f"{text[:1].upper()}{text[1:]}." if text else "",
        used=used,
        late=words.late_words(choice, scene.today),
        matched=" ".join(
            text
            for text in (
                words.matched_words(choice, put_up, scene.lot_names),
                words.other_lots_words(one, choice),
            )
            if text
        ),
        reason=words.reason_words(one, choice, scene, measures),
        others=tuple(words.other_words(other, scene, measures) for other in one.choices if other != choice),
        lots=(
            (OrderLot.ANY.value, "any lot"),
            (OrderLot.ONE.value, "all of one lot"),
            *((f"{OrderLot.MATCH.value}-{pk}", f"the same as lot {name}") for pk, name in lots),
        ),
        lot=_lot(one, choice),
        seen=seen,
    )


def _lot(one: Asking, choice: Choice) -> str:
    """A lot that is wished for, one lot where a warp is cut of it, else any."""
    wishes = {job.id: job.need for job in one.around.jobs}
    needs = [wishes[short.job_id] for short in one.shorts if short.job_id in wishes]
    lots = [need.wish_lot_id for need in needs if need.wish == "lot"]
    if lots:
        return f"{OrderLot.MATCH.value}-{choice.matched_lot if choice.matched_lot in lots else lots[0]}"
    warp = any(need.ends or need.wish == "same" for need in needs)
    return OrderLot.ONE.value if warp else OrderLot.ANY.value


def _proposed(scene: Scene, lines: Sequence[Line]) -> tuple[Proposed, ...]:
    by_supplier: dict[int, list[Line]] = {}
    for line in lines:
        by_supplier.setdefault(line.choice.offered.supplier_id, []).append(line)
    return tuple(
        Proposed(
            scene.suppliers[pk],
            scene.currency_of(pk),
            tuple(found),
            scene.unsent.get(pk),
            scene.begun.get(pk, 0),
        )
        for pk, found in by_supplier.items()
    )


def _lead(asking: Sequence[Asking], today: date) -> str:
    """Order by 14 August: 2 shades. Only what is missing, and what can be ordered."""
    late, days = 0, {}
    unknown = 0
    for one in asking:
        if not one.must or not (one.chosen or (one.covered and one.around.written)):
            continue
        day = one.decision.order_by
        if day is None:
            unknown += 1
        elif day <= today:
            late += 1
        else:
            days[day] = days.get(day, 0) + 1
    said = [f"today: {counted(late, 'shade')}"] if late else []
    said += [
        f"by {words.day_words(day, today)}: {counted(count, 'shade')}"
        for day, count in sorted(days.items())[:2]
    ]
    rest = sum(count for _, count in sorted(days.items())[2:])
    if rest:
        said.append(f"later: {counted(rest, 'shade')}")
    if unknown:
        said.append(f"by a day that is not known: {counted(unknown, 'shade')}")
    return f"Order {'; '.join(said)}." if said else ""
