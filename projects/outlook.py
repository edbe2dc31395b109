"""What lies ahead of every shade: what is free, what jobs still want of it, what is due, what is usually used.

Which figures count, and why:

- Free is on hand less what is reserved, cone by cone and never below nothing, of cones fit for use.
- A job is a planned project of which no yarn was taken yet. It wants its need, less what its claim holds of the shade,
  warp and weft together: reserved anew it may use all of that. Only what will be there counts as held: yarn on a weak
  cone does not, on one in quarantine only if that ends by the winding day, and of a cone that a weigh-in left with less
  than is promised those who come last hold nothing.
- What of an order has not come is due on the order's day; with the delay that the supplier usually has, later. Yarn of
  animal fibre is free only when the quarantine after that is over.
- Usual use is an estimate from the ledger's entries of no project (`EntryQuerySet.of_no_project` says which).
- A cone in quarantine whose end is known is free from that day on: it is here, and nobody has to send it. One whose end
  is past waits for somebody who looks at it, and counts as from today.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date, timedelta
from itertools import groupby

from django.db.models import F, Q, Subquery, Sum
from django.db.models.functions import Coalesce

from projects.models import Project, ProjectShade
from stash.calc.fibres import has_animal_fibre
from stash.calc.outlook import Arrival, Clearing, Job, Outlook
from stash.models import Cone, OrderLine, Reservation, Shade, Studio
from stash.models.condition import USABLE, Condition
from stash.models.usual_use import used_of

MANY = 500

Key = tuple[int, int]
"""A claim and a shade."""


def outlooks(shade_ids: Collection[int] | None, *, today: date, with_use: bool = True) -> dict[int, Outlook]:
    """By shade, in a fixed number of queries however many: of these live shades, or with None of all live shades
    that anything is to be said of: a job, a keep level, an order, or usual use.

    `with_use` reads the ledger, which is the dearest of all: what asks for jobs and orders alone goes without.
    """
    shades = Shade.objects.live() if shade_ids is None else Shade.objects.live().filter(pk__in=shade_ids)
    keeps = dict(shades.order_by().values_list("pk", "keep_mg"))
    # The keys of very many shades take longer to ask for than all rows to read.
    asked = None if shade_ids is None or len(keeps) > MANY else set(keeps)
    free, jobs = _free(asked), _jobs(asked)
    arrivals, undated = _arrivals(asked)
    clearings = _clearings(asked, today)
    used = used_of(asked, today=today) if with_use else {}
    found = {
        pk: Outlook(
            pk,
            free.get(pk, 0),
            keep_mg,
            tuple(jobs.get(pk, ())),
            tuple(arrivals.get(pk, ())),
            used[pk].usual if pk in used else None,
            undated.get(pk, 0),
            tuple(clearings.get(pk, ())),
            used[pk].taken if pk in used else None,
        )
        for pk, keep_mg in keeps.items()
    }
    if shade_ids is None:
        return {pk: one for pk, one in found.items() if _says_anything(one)}
    return found


def _says_anything(one: Outlook) -> bool:
    return bool(one.jobs or one.keep_mg or one.arrivals or one.undated_mg or one.use)


def _of(asked: set[int] | None, column: str) -> Q:
    return Q() if asked is None else Q(**{f"{column}__in": asked})


def _free(asked: set[int] | None) -> dict[int, int]:
    cones = Cone.objects.usable().free().filter(_of(asked, "shade")).order_by()
    return dict(cones.values_list("shade").annotate(mg=Sum(F("on_hand_mg") - F("reserved_mg"))))


def _clearings(asked: set[int] | None, today: date) -> dict[int, list[Clearing]]:
    cones = Cone.objects.live().free().filter(_of(asked, "shade"), condition=Condition.QUARANTINE)
    rows = cones.exclude(condition_on=None).order_by("condition_on", "pk")
    found: dict[int, list[Clearing]] = defaultdict(list)
    for shade_id, pk, on, mass_mg in rows.values_list(
        "shade", "pk", "condition_on", F("on_hand_mg") - F("reserved_mg")
    ):
        found[shade_id].append(Clearing(pk, max(on, today), mass_mg))
    return found


def _arrivals(asked: set[int] | None) -> tuple[dict[int, list[Arrival]], dict[int, int]]:
    """By shade: what is due, by day; and in mg what was ordered for no known day."""
    lines = OrderLine.objects.awaited().filter(_of(asked, "shade"))
    left = (F("number") - F("came") - F("cancelled")) * F("mass_mg")
    quarantine = Subquery(Studio.objects.values("quarantine_days")[:1])
    # A line stands there once for each fibre of its yarn.
    rows = lines.order_by("order__due_on", "pk").values_list(
        "shade", "pk", "order__due_on", "order__late_days", left, quarantine, "shade__yarn__fibres__fibre"
    )
    dated: dict[int, list[Arrival]] = defaultdict(list)
    undated: dict[int, int] = defaultdict(int)
    for (shade_id, pk, due_on, late_days, mass_mg, days), of_line in groupby(rows, key=lambda row: row[:-1]):
        if due_on is None:
            undated[shade_id] += mass_mg
            continue
        apart_days = days if days and has_animal_fibre(fibre for *_, fibre in of_line if fibre) else 0
        late_on = due_on + timedelta(days=late_days)
        dated[shade_id].append(Arrival(pk, due_on, late_on, mass_mg, apart_days))
    for arrivals in dated.values():
        arrivals.sort(key=lambda one: (one.late_on, one.id))
    return dated, undated


def _jobs(asked: set[int] | None) -> dict[int, list[Job]]:
    """By shade, who needs it first stands first."""
    ahead = Project.objects.to_weave()
    held = _held(ahead, asked)
    rows = (
        ProjectShade.objects.filter(_of(asked, "shade"), project__in=ahead.order_by())
        .order_by(F("project__need_on").asc(nulls_last=True), "project__rank", "project_id")
        .values_list(
            "shade_id",
            "project_id",
            "project__name",
            "project__need_on",
            "project__rank",
            "project__claim_id",
            Coalesce("frozen_um", "shade__yarn__grist_um"),
            Coalesce("frozen_mg", "shade__yarn__grist_mg"),
            "warp_um",
            "ends",
            "ends_buffered",
            "weft_piece_um",
            "weft_piece_buffered_um",
            "weft_sample_um",
            "weft_sample_buffered_um",
            "project__pieces",
            F("project__kit_students") + F("project__kit_demo") + F("project__kit_spare"),
        )
    )
    jobs: dict[int, list[Job]] = defaultdict(list)
    for shade_id, pk, name, on, rank, claim_id, um, mg, warp_um, *needs, pieces, kits in rows:
        ends, ends_buffered, piece, piece_buffered, sample, sample_buffered = needs
        pieces *= max(1, kits)
        has = held.get((claim_id, shade_id), 0)
        bare, buffered = (
            max(0, -(-length * mg // um) - has)
            for length in (
                ends * warp_um + pieces * piece + sample,
                ends_buffered * warp_um + pieces * piece_buffered + sample_buffered,
            )
        )
        if buffered:
            jobs[shade_id].append(Job(pk, name, on, rank, bare, buffered))
    return jobs


def _held(ahead, asked: set[int] | None) -> dict[Key, int]:
    """In mg what the claims of these projects hold of a shade and will have when they wind."""
    ours = Reservation.objects.filter(
        _of(asked, "cone__shade"), claim__in=ahead.exclude(claim=None).order_by().values("claim")
    )
    rows = ours.filter(_fit_by_its_day()).order_by()
    held = {
        (claim_id, shade_id): mass_mg
        for claim_id, shade_id, mass_mg in rows.values_list("claim", "cone__shade").annotate(
            mg=Sum("mass_mg")
        )
    }
    for key, lost_mg in _lost(asked).items():
        if key in held:
            held[key] = max(0, held[key] - lost_mg)
    return held


def _fit_by_its_day() -> Q:
    """Of reservations: those on cones that may be used when their claim is wound."""
    cleared = Q(cone__condition=Condition.QUARANTINE, cone__condition_on__isnull=False) & (
        Q(claim__need_on=None) | Q(cone__condition_on__lte=F("claim__need_on"))
    )
    return Q(cone__condition__in=USABLE) | cleared


def _lost(asked: set[int] | None) -> dict[Key, int]:
    """In mg what claims hold that a weigh-in showed not to be there, of cones fit by their day: who needs yarn last
    goes without."""
    over = Reservation.objects.filter(
        _of(asked, "cone__shade"), cone__retired_at=None, cone__reserved_mg__gt=F("cone__on_hand_mg")
    )
    rows: Iterable[tuple[int, int, int, int, int, bool]] = (
        over.annotate(fit=_fit_by_its_day())
        .order_by("cone_id", F("claim__need_on").asc(nulls_last=True), "claim__rank", "claim_id", "use")
        .values_list("cone_id", "cone__on_hand_mg", "cone__shade_id", "claim_id", "mass_mg", "fit")
    )
    lost: dict[Key, int] = defaultdict(int)
    at, left_mg = None, 0
    for cone_id, on_hand_mg, shade_id, claim_id, mass_mg, fit in rows:
        if cone_id != at:
            at, left_mg = cone_id, on_hand_mg
        has_mg = min(left_mg, mass_mg)
        left_mg -= has_mg
        if fit and has_mg < mass_mg:
            lost[claim_id, shade_id] += mass_mg - has_mg
    return lost
