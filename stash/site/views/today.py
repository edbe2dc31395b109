"""Today: what needs a hand now."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from projects.buying.last_days import last_order_days
from projects.days import earliest_by_project
from projects.judging import Judged, judge_all
from projects.models import Project
from projects.wording import counted, verdict_sentences
from stash.access import VIEWERS
from stash.calc.verdict import Verdict
from stash.calc.writing import Measures
from stash.measuring import measures_of
from stash.models import Cone, Reservation, Shade
from stash.models.equipment import due_back
from stash.site.backup.warning import backup_warning
from stash.site.calendar.soon import arriving, next_fair, ordering_soon

LOOKED_AT = 100
"""Projects whose verdict is worked out, by need date; those behind are counted, not judged."""
SHOWN = 12
"""Rows of a list on this page; the rest stands on the page that the list leads to."""


Looked = tuple[Project, Judged]


@dataclass(frozen=True, slots=True)
class Wanting:
    """A project that cannot be wound, what it is short of, and in how many days it should be."""

    project: Project
    lead: str
    days: int | None


@dataclass(frozen=True, slots=True)
class Undercut:
    """A cone on which more is promised than a weigh-in left, and to whom."""

    cone: Cone
    claims: list[Any]


@VIEWERS
def today(request: HttpRequest) -> HttpResponse:
    measures, day = measures_of(request.studio), timezone.localdate()
    wanting, ready, unseen = _projects()
    undercut = _undercut()
    low, low_count, scale = _low()
    loans = due_back(day)
    lasts = last_order_days(day)
    ordering, parcels = ordering_soon(lasts, day), arriving(day)
    fair = next_fair(earliest_by_project(lasts), measures, day)
    at_fair = {one.project.pk for one, _ in fair.steps[:SHOWN]} if fair else set()
    ready = [pair for pair in ready if pair[0].pk not in at_fair]
    late = sum(1 for parcel in parcels if parcel.late)
    things = len(wanting) + low_count + len(undercut) + len(loans) + len(ordering) + late
    context = {
        "section": "today",
        "day": day,
        "wanting": [_told(project, judged, measures, day) for project, judged in wanting[:SHOWN]],
        "wanting_more": max(0, len(wanting) - SHOWN),
        "coming": ready[:SHOWN],
        "unseen": unseen,
        "undercut": undercut[:SHOWN],
        "undercut_more": max(0, len(undercut) - SHOWN),
        "low": low,
        "low_more": low_count - len(low),
        "scale": scale,
        "loans": loans[:SHOWN],
        "loans_more": max(0, len(loans) - SHOWN),
        "ordering": ordering[:SHOWN],
        "ordering_more": max(0, len(ordering) - SHOWN),
        "parcels": parcels[:SHOWN],
        "parcels_more": max(0, len(parcels) - SHOWN),
        "next_fair": fair,
        "shown": SHOWN,
        "things": counted(things, "thing wants a hand", "things want a hand"),
        "nothing": not things,
        "empty": not Shade.objects.exists(),
        "backup_warning": backup_warning(request.studio),
    }
    return render(request, "site/today.html", context)


def _projects() -> tuple[list[Looked], list[Looked], int]:
    """Those that are short; the others that have a winding day; and how many were not looked at."""
    found = Project.objects.to_weave().by_need().listed()
    looked = judge_all(found[:LOOKED_AT])
    unseen = max(0, found.count() - LOOKED_AT) if len(looked) == LOOKED_AT else 0
    short = [pair for pair in looked if pair[1].state == Verdict.SHORT]
    ready = [pair for pair in looked if pair[1].state != Verdict.SHORT and pair[0].need_on]
    return short, ready, unseen


def _told(project: Project, judged: Judged, measures: Measures, day: date) -> Wanting:
    days = (project.need_on - day).days if project.need_on else None
    return Wanting(project, verdict_sentences(judged, measures).lead, days)


def _undercut() -> list[Undercut]:
    cones = list(Cone.objects.undercut().with_names().order_by("pk")[: SHOWN * 4])
    held: dict[int, list[Any]] = {}
    if cones:
        for line in (
            Reservation.objects.filter(cone__in=cones)
            .select_related("claim")
            .order_by("claim__need_on", "pk")
        ):
            claims = held.setdefault(line.cone_id, [])
            if line.claim not in claims:
                claims.append(line.claim)
    return [Undercut(cone, held.get(cone.pk, [])) for cone in cones]


def _low() -> tuple[list[Shade], int, int]:
    """Shades at or below their keep level, the emptiest first, with the scale of their bars."""
    low = sorted(
        Shade.objects.at_or_below_keep(),
        key=lambda shade: (shade.free_mg + shade.on_order_mg) / shade.keep_mg,
    )
    shown = low[:SHOWN]
    for shade in shown:
        grist = shade.yarn.grist
        shade.free_um = int(grist.length_um_of(shade.free_mg - shade.undercut_mg))
        shade.reserved_um = int(grist.length_um_of(shade.reserved_mg))
        shade.on_order_um = int(grist.length_um_of(shade.on_order_mg))
        shade.keep_um = int(grist.length_um_of(shade.keep_mg))
    scale = max(
        (max(shade.free_um + shade.reserved_um + shade.on_order_um, shade.keep_um) for shade in shown),
        default=1,
    )
    return shown, len(low), scale
