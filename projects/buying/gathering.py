"""What is looked at to say what should be ordered: a fixed number of queries, however many shades.

Only shades with a job, a keep level or usual use are looked at, and cones and orders only of those with a job.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import F, Q
from django.db.models.functions import Coalesce

from projects.judging import NEED_COLUMNS
from projects.models import Project, ProjectShade
from projects.outlook import outlooks
from stash.calc.fibres import has_animal_fibre
from stash.calc.grist import Grist
from stash.calc.outlook import Outlook
from stash.calc.packing import Need
from stash.calc.reorder.jobs import Package, Wanting
from stash.calc.reorder.put_ups import Offered
from stash.calc.reorder.terms import Terms
from stash.models import (
    Cone,
    FibreShare,
    Order,
    OrderLine,
    OrderLot,
    PutUp,
    Reservation,
    Shade,
    Studio,
    Supplier,
)
from stash.models.condition import USABLE, Condition

# Keys of packages that are on order, and of their lots, meet none of the shelf's.
_ON_ORDER = 1_000_000_000_000
_LOT_ON_ORDER = -10_000


@dataclass(frozen=True, slots=True)
class Written:
    """A line of an order that was not sent yet, and how long its supplier takes."""

    order_id: int
    number: int
    supplier_id: int
    supplier_name: str
    lead_days: int | None
    late_days: int


@dataclass(frozen=True, slots=True)
class Around:
    """One shade with all that is known around it."""

    outlook: Outlook
    yarn_id: int
    animal: bool
    no_more_on: date | None
    one_more: bool
    jobs: tuple[Wanting, ...] = ()
    """In the order in which they are served."""
    packages: tuple[Package, ...] = ()
    """On the shelf, and on order."""
    written_packages: tuple[Package, ...] = ()
    """Of orders being written."""
    written: tuple[Written, ...] = ()
    overdue_packages: tuple[Package, ...] = ()
    """Of orders over their day, usual delay counted, or of no known day: no job can count on them, and nobody should
    order them twice."""
    overdue: tuple[int, ...] = ()
    """Orders over their day."""
    dayless: tuple[int, ...] = ()
    """Orders of no known day."""
    offers: tuple[Offered, ...] = ()

    @property
    def shade_id(self) -> int:
        return self.outlook.shade_id

    @property
    def written_mg(self) -> int:
        return sum(one.free_mg for one in self.written_packages)

    @property
    def unsure(self) -> tuple[int, ...]:
        """Orders that are to be asked after, the late ones first."""
        return (*self.overdue, *self.dayless)


@dataclass(frozen=True, slots=True)
class Scene:
    """All shades that anything is to be said of, and whom yarn is ordered from."""

    today: date
    studio: Studio
    shades: Mapping[int, Around]
    suppliers: Mapping[int, Supplier]
    put_ups: Mapping[int, PutUp]
    lot_names: Mapping[int, str]
    begun: Mapping[int, int] = field(default_factory=dict)
    """What stands in orders being written, in cents by supplier, as far as prices are known."""
    unsent: Mapping[int, int] = field(default_factory=dict)
    """The order that is being written, by supplier; the last of several."""

    def currency_of(self, supplier_id: int) -> str:
        return self.suppliers[supplier_id].currency or self.studio.currency

    def terms_of(self, supplier_id: int) -> Terms:
        them = self.suppliers[supplier_id]
        return Terms(them.minimum_cents, them.carriage_cents, them.carriage_free_cents)


def gather(today: date, *, studio: Studio | None = None, only: Collection[int] | None = None) -> Scene:
    """`only` leaves out all shades but these."""
    studio = studio or Studio.objects.get()
    rows = list(_job_rows(only))
    ahead = outlooks(only, today=today)
    wanted = {pk for pk, one in ahead.items() if one.jobs}
    jobs, packages, lot_names = _jobs_and_packages(rows, wanted, today)
    facts = _facts(ahead)
    yarns = {yarn_id for yarn_id, *_ in facts.values()}
    put_ups = _put_ups(yarns)
    animal = _animal(yarns)
    apart = {pk: studio.quarantine_days for pk, (yarn_id, *_) in facts.items() if yarn_id in animal}
    awaited = _on_order(set(ahead), wanted, today, apart)
    offers = _offers(put_ups.values())
    shades = {
        pk: Around(
            one,
            yarn_id,
            yarn_id in animal,
            no_more_on,
            one_more,
            tuple(jobs.get(pk, ())),
            (*packages.get(pk, ()), *awaited.sent.get(pk, ())),
            tuple(awaited.unsent.get(pk, ())),
            tuple(awaited.written.get(pk, ())),
            tuple(awaited.late.get(pk, ())),
            tuple(awaited.late_orders.get(pk, ())),
            tuple(awaited.dayless_orders.get(pk, ())),
            offers=tuple(offer for of, offer in offers.get(yarn_id, ()) if of in (None, pk)),
        )
        for pk, one in ahead.items()
        for yarn_id, no_more_on, one_more in [facts[pk]]
    }
    suppliers = {put_up.supplier_id: put_up.supplier for put_up in put_ups.values()}
    return Scene(
        today,
        studio,
        shades,
        suppliers,
        put_ups,
        lot_names,
        {pk: awaited.begun[pk] for pk in suppliers if pk in awaited.begun},
        dict(
            Order.objects.unsent().filter(supplier__in=suppliers).order_by("pk").values_list("supplier", "pk")
        ),
    )


def _facts(ahead: Mapping[int, Outlook]) -> dict[int, tuple[int, date | None, bool]]:
    rows = Shade.objects.filter(pk__in=ahead).order_by()
    return {pk: rest for pk, *rest in rows.values_list("pk", "yarn_id", "no_more_on", "one_more")}


def _job_rows(only: Collection[int] | None) -> Iterable[tuple[int, int | None, Wanting]]:
    """Shade, claim and job, in the order in which jobs are served."""
    ahead = Project.objects.to_weave().order_by()
    which = Q() if only is None else Q(shade__in=only)
    rows = (
        ProjectShade.objects.filter(which, project__in=ahead)
        .order_by(F("project__need_on").asc(nulls_last=True), "project__rank", "project_id")
        .values_list(
            "shade_id",
            "project__claim_id",
            "project_id",
            "project__name",
            "project__need_on",
            "warp_um",
            "project__warp_um",
            "project__pieces",
            F("project__kit_students") + F("project__kit_demo") + F("project__kit_spare"),
            "project__keep_back",
            Coalesce("frozen_um", "shade__yarn__grist_um"),
            Coalesce("frozen_mg", "shade__yarn__grist_mg"),
            *NEED_COLUMNS,
        )
    )
    for shade_id, claim_id, pk, name, on, own_um, warp_um, pieces, kits, back, um, mg, *columns in rows:
        need = Need(*columns)
        job = Wanting(pk, name, on, need, own_um or warp_um, pieces * max(1, kits), back, Grist(um, mg))
        yield shade_id, claim_id, job


def _jobs_and_packages(
    rows: Iterable[tuple[int, int | None, Wanting]], shades: set[int], today: date
) -> tuple[dict[int, list[Wanting]], dict[int, list[Package]], dict[int, str]]:
    cones = Cone.objects.live().filter(
        Q(condition__in=USABLE) | Q(condition=Condition.QUARANTINE, condition_on__isnull=False),
        shade__in=shades,
    )
    on_hand: dict[int, int] = {}
    packages: dict[int, list[Package]] = defaultdict(list)
    lot_names: dict[int, str] = {}
    for pk, shade_id, lot_id, lot, mass_mg, reserved_mg, condition, until in cones.order_by("pk").values_list(
        "pk",
        "shade_id",
        "lot_id",
        "lot__name",
        "on_hand_mg",
        "reserved_mg",
        "condition",
        "condition_on",
    ):
        on_hand[pk] = mass_mg
        if lot_id is not None:
            lot_names[lot_id] = lot
        from_day = max(until, today) if condition == Condition.QUARANTINE else None
        packages[shade_id].append(Package(pk, lot_id, max(0, mass_mg - reserved_mg), from_day))
    held: dict[tuple[int, int], dict[int, int]] = defaultdict(lambda: defaultdict(int))
    # Of a cone that a weigh-in left with less than is promised, who needs it last goes without.
    reserved = Reservation.objects.filter(cone__shade__in=shades, cone__retired_at=None).order_by(
        F("claim__need_on").asc(nulls_last=True), "claim__rank", "claim_id", "pk"
    )
    for claim_id, shade_id, cone_id, mass_mg in reserved.values_list(
        "claim_id", "cone__shade_id", "cone_id", "mass_mg"
    ):
        has_mg = min(mass_mg, on_hand.get(cone_id, 0))
        if has_mg:
            on_hand[cone_id] -= has_mg
            held[claim_id, shade_id][cone_id] += has_mg
    jobs: dict[int, list[Wanting]] = defaultdict(list)
    for shade_id, claim_id, job in rows:
        if shade_id in shades:
            mine = held.get((claim_id, shade_id)) if claim_id else None
            jobs[shade_id].append(_holding(job, mine) if mine else job)
    return jobs, packages, lot_names


def _holding(job: Wanting, held: Mapping[int, int]) -> Wanting:
    return Wanting(
        job.id, job.name, job.on, job.need, job.warp_um, job.pieces, job.keep_back, job.grist, dict(held)
    )


@dataclass(frozen=True, slots=True)
class _Awaited:
    """Packages on order by shade; the lines that were not sent and what these cost by supplier; orders that are late,
    and of no known day: `late` has the packages of both."""

    sent: dict[int, list[Package]]
    unsent: dict[int, list[Package]]
    late: dict[int, list[Package]]
    written: dict[int, list[Written]]
    late_orders: dict[int, list[int]]
    dayless_orders: dict[int, list[int]]
    begun: dict[int, int]


def _on_order(shades: set[int], wanted: set[int], today: date, apart: Mapping[int, int]) -> _Awaited:
    """`apart` is for how many days what comes of a shade is kept in quarantine."""
    found = _Awaited(*(defaultdict(list) for _ in range(6)), defaultdict(int))
    lines = OrderLine.objects.filter(order__closed_at=None, number__gt=F("came") + F("cancelled"))
    rows = lines.order_by("pk").values_list(
        "pk",
        "shade_id",
        "lot_id",
        "lot_wish",
        "mass_mg",
        "price_cents",
        "order_id",
        "order__ordered_on",
        "order__due_on",
        "order__late_days",
        "order__supplier_id",
        "order__supplier__name",
        "order__supplier__lead_days",
        "order__supplier__late_days",
        F("number") - F("came") - F("cancelled"),
    )
    for pk, shade_id, lot_id, wish, mass_mg, price, order_id, out, due, late, *of_whom, number in rows:
        if out is None:
            found.begun[of_whom[0]] += number * (price or 0)
            found.written[shade_id].append(Written(order_id, number, *of_whom))
        if shade_id not in shades or (out is not None and shade_id not in wanted):
            continue
        lot = _LOT_ON_ORDER - pk if wish == OrderLot.ONE else lot_id
        here = due + timedelta(days=late) if out is not None and due else None
        from_day = here + timedelta(days=apart.get(shade_id, 0)) if here and here >= today else None
        packs = [Package(_ON_ORDER + 1_000 * pk + at, lot, mass_mg, from_day) for at in range(number)]
        if out is None:
            found.unsent[shade_id].extend(packs)
        elif here is None:
            found.late[shade_id].extend(packs)
            found.dayless_orders[shade_id].append(order_id)
        elif here < today:
            found.late[shade_id].extend(packs)
            found.late_orders[shade_id].append(order_id)
        else:
            found.sent[shade_id].extend(packs)
    return found


def _put_ups(yarns: set[int]) -> dict[int, PutUp]:
    found = PutUp.objects.sold().filter(yarn__in=yarns).select_related("supplier")
    return {one.pk: one for one in found.prefetch_related("breaks").order_by("pk")}


def offered(put_up: PutUp) -> Offered:
    """A put-up as calc takes it."""
    breaks = tuple((one.number, one.price_cents) for one in put_up.breaks.all())
    return Offered(put_up.pk, put_up.supplier_id, put_up.mass_mg, put_up.price_cents, put_up.least, breaks)


def _offers(put_ups: Iterable[PutUp]) -> dict[int, list[tuple[int | None, Offered]]]:
    """By yarn: the shade that it is for, or None for all, and the offer."""
    found: dict[int, list[tuple[int | None, Offered]]] = defaultdict(list)
    for put_up in put_ups:
        found[put_up.yarn_id].append((put_up.shade_id, offered(put_up)))
    return found


def _animal(yarns: set[int]) -> set[int]:
    fibres: dict[int, set[str]] = defaultdict(set)
    for yarn_id, fibre in FibreShare.objects.filter(yarn__in=yarns).values_list("yarn_id", "fibre"):
        fibres[yarn_id].add(fibre)
    return {yarn_id for yarn_id, names in fibres.items() if has_animal_fibre(names)}
