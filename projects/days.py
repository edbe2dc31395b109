"""The studio's days: one list of dated things, for the page of days, the calendar feed, and in part for Today.

Each kind is asked for by itself and in a fixed number of queries, so that a page takes the kinds it shows. A thing is
late where its day is past and what belongs to it has not been done; what is done, or over, stands in no list.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from django.urls import reverse

from projects.buying.last_days import LastDay, last_order_days
from projects.fairs import day, days_of
from projects.models import Fair, Project, Stage
from projects.wording import counted, together
from stash.models import Cone, Order
from stash.models.condition import Condition
from stash.models.equipment import due_back

NAMED = 4
"""So many names stand in a sentence; of more the rest is counted."""
_ON_ITS_WAY = (Stage.PLANNED, Stage.WOUND, Stage.DRESSED, Stage.WEAVING)


class DayKind(StrEnum):
    """What falls on a day. The value is the word on pages, and the category in a calendar."""

    ORDER = "last day to order"
    WIND = "winding day"
    OFF = "off the loom"
    READY = "to be ready"
    FAIR = "fair"
    ARRIVAL = "arrival"
    BACK = "to come back"
    APART = "end of quarantine"


@dataclass(frozen=True, slots=True)
class Dated:
    """A thing on a day, or on all days until `until`. `key` names it for ever, whatever becomes of its day."""

    on: date
    until: date
    kind: DayKind
    key: str
    title: str
    more: str
    href: str
    late: bool = False


def all_days(today: date) -> list[Dated]:
    """Everything that is ahead or late, by day: seven queries and those of the last order days."""
    kinds = (order_days, fair_days, winding_days, days_off, arrivals, loans, quarantines)
    return sorted(
        (one for kind in kinds for one in kind(today)), key=lambda one: (one.on, one.until, one.kind, one.key)
    )


def order_days(today: date) -> list[Dated]:
    """The last day to order a shade of which a job is short, where it is known."""
    return ordered_by(last_order_days(today), today)


def ordered_by(lasts: Iterable[LastDay], today: date) -> list[Dated]:
    """Of what can be ordered by a known day."""
    return [
        Dated(
            one.day,
            one.day,
            DayKind.ORDER,
            f"buy-{one.shade_id}-{one.project_id}",
            f"Order {one.shade_name} for {one.project_name}",
            _of_ordering(one, today),
            reverse("order-page", args=[one.order_id]) if one.order_id else reverse("buying"),
            one.day < today,
        )
        for one in lasts
        if one.day is not None and not one.no_more
    ]


def _of_ordering(one: LastDay, today: date) -> str:
    said = [f"{one.yarn_name}{f', from {one.supplier_name}' if one.supplier_name else ''}."]
    if one.on is not None:
        said.append(f"To be wound on {day(one.on, today)}.")
    if one.order_id is not None:
        said.append("The order is written: send it by this day.")
    return " ".join(said)


def earliest_by_project(lasts: Iterable[LastDay]) -> dict[int, date]:
    """By project, the first of the last days to order what it lacks."""
    found: dict[int, date] = {}
    for one in lasts:
        if one.day is not None and not one.no_more:
            found[one.project_id] = min(one.day, found.get(one.project_id, one.day))
    return found


def winding_days(today: date) -> list[Dated]:
    """Of what was not wound yet."""
    rows = Project.objects.to_weave().filter(stage=Stage.PLANNED).exclude(need_on=None)
    return [
        Dated(
            on,
            on,
            DayKind.WIND,
            f"wind-{pk}",
            f"Wind {name}",
            occasion and f"For {occasion}.",
            reverse("project-page", args=[pk]),
            on < today,
        )
        for pk, name, occasion, on in rows.values_list("pk", "name", "occasion", "need_on")
    ]


def days_off(today: date) -> list[Dated]:
    """Days by which a warp is to be off its loom."""
    rows = Project.objects.open().filter(stage__in=_ON_ITS_WAY).exclude(off_on=None)
    return [
        Dated(
            on,
            on,
            DayKind.OFF,
            f"off-{pk}",
            f"{name} off the loom",
            f"It is to be off {loom}." if loom else "",
            reverse("project-page", args=[pk]),
            on < today,
        )
        for pk, name, on, loom in rows.values_list("pk", "name", "off_on", "loom__name")
    ]


def fair_days(today: date) -> list[Dated]:
    """Fairs that are not over, and before each the day by which its projects are to be ready."""
    fairs = [fair for fair in Fair.objects.by_day() if days_of(fair).ends_on >= today]
    unready = _unready(fairs)
    found = []
    for fair in fairs:
        days, names = days_of(fair), unready.get(fair.pk, [])
        href = reverse("fair-page", args=[fair.pk])
        found.append(
            Dated(
                days.begins_on,
                days.ends_on,
                DayKind.FAIR,
                f"fair-{fair.pk}",
                fair.name,
                fair.place and f"{fair.place}.",
                href,
            )
        )
        if names or days.ready_on >= today:
            found.append(
                Dated(
                    days.ready_on,
                    days.ready_on,
                    DayKind.READY,
                    f"ready-{fair.pk}",
                    f"Ready for {fair.name}",
                    f"Not ready yet: {some(names)}." if names else "",
                    href,
                    bool(names) and days.ready_on < today,
                )
            )
    return found


def _unready(fairs: Iterable[Fair]) -> dict[int, list[str]]:
    """By fair, the names of its projects that are not finished."""
    found: dict[int, list[str]] = defaultdict(list)
    rows = Project.objects.open().filter(fair__in=[fair.pk for fair in fairs])
    rows = rows.exclude(stage__in=[Stage.FINISHED, Stage.DONE]).by_need()
    for fair_id, name in rows.values_list("fair_id", "name"):
        found[fair_id].append(name)
    return found


def arrivals(today: date) -> list[Dated]:
    """Orders under way that are due on a known day: from that day until it is over its usual delay as well."""
    orders = Order.objects.under_way().exclude(due_on=None).with_sums()
    found = []
    for order in orders:
        what = f"{counted(order.awaited_count, 'package')} awaited."
        usual = f" With the usual delay by {day(order.sure_on, today)}." if order.late_days else ""
        ask = " It is late: ask after it." if order.is_late(today) else ""
        found.append(
            Dated(
                order.due_on,
                order.sure_on,
                DayKind.ARRIVAL,
                f"arrival-{order.pk}",
                f"Order {order.pk} from {order.supplier.name} {'was' if order.due_on < today else 'is'} due",
                f"{what}{usual}{ask}",
                reverse("order-page", args=[order.pk]),
                order.is_late(today),
            )
        )
    return found


def loans(today: date) -> list[Dated]:
    """Equipment that is lent out, by the day on which it is to be back."""
    return [
        Dated(
            loan.back_on,
            loan.back_on,
            DayKind.BACK,
            f"back-{loan.kind}-{loan.pk}",
            f"{loan.name} comes back",
            f"It is with {loan.lent_to}.",
            reverse("equipment-page", args=[loan.kind, loan.pk]),
            loan.back_on < today,
        )
        for loan in due_back(date.max)
    ]


def quarantines(today: date) -> list[Dated]:
    """Cones that are kept apart until a day, those of one shade together."""
    cones = Cone.objects.live().filter(condition=Condition.QUARANTINE).exclude(condition_on=None)
    together_: dict[tuple[date, int], list[tuple[str, str, str]]] = defaultdict(list)
    rows = cones.order_by("condition_on", "shade", "pk")
    for on, shade_id, *words in rows.values_list(
        "condition_on", "shade_id", "code", "shade__name", "shade__yarn__name"
    ):
        together_[on, shade_id].append(tuple(words))
    return [
        Dated(
            on,
            on,
            DayKind.APART,
            f"apart-{shade_id}-{on:%Y%m%d}",
            f"Quarantine of {cones[0][1]} ends",
            f"Look at {some([code for code, *_ in cones])} of {cones[0][2]} before it joins the others.",
            reverse("shade-page", args=[shade_id]),
            on < today,
        )
        for (on, shade_id), cones in together_.items()
    ]


def some(names: Sequence[str]) -> str:
    """A, B and C; of many the first, and how many more."""
    if len(names) <= NAMED:
        return together(names)
    return f"{', '.join(names[: NAMED - 1])} and {len(names) - NAMED + 1} more"
