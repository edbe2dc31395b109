"""Fairs: the list, one with its projects counted back from it, and for which fair a project is."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from projects.buying.last_days import last_order_days
from projects.days import earliest_by_project
from projects.fairs import Going, days_of, going_to, is_over, too_late
from projects.forms.fairs import ChooseForm, FairForm, FairOfProjectForm
from projects.models import Fair, Project
from projects.services.fairs import choose_projects, remove_fair, save_fair, set_fair
from projects.wording import counted
from stash.access import OWNERS, VIEWERS
from stash.forms.fields import RefusableForm
from stash.measuring import measures_of
from stash.services.refusal import Refusal
from stash.tables.paging import ROWS_A_PAGE
from stash.views.answers import page, posted, served

SECTION = {"section": "fairs"}
PAST_SHOWN = 4 * ROWS_A_PAGE


@dataclass(frozen=True, slots=True)
class FairRow:
    """A fair that is ahead, as the list has it."""

    fair: Fair
    days: int
    ready_on: date
    going: list[Going]

    @property
    def in_trouble(self) -> int:
        return sum(1 for one in self.going if one.troubles)


@VIEWERS
def fairs(request: HttpRequest) -> HttpResponse:
    """The next first; those that are over stand folded below it."""
    today = timezone.localdate()
    coming, past = _coming_and_past(today)
    lacking = earliest_by_project(last_order_days(today)) if coming else {}
    going = going_to(coming, lacking, measures_of(request.studio), today)
    context = SECTION | {
        "rows": [
            FairRow(fair, (fair.begins_on - today).days, days_of(fair).ready_on, going[fair.pk])
            for fair in coming
        ],
        "past": past[:PAST_SHOWN],
        "past_more": max(0, len(past) - PAST_SHOWN),
    }
    return page(request, "projects/fairs.html", context)


@VIEWERS
def fair_page(request: HttpRequest, pk: int) -> HttpResponse:
    fair = get_object_or_404(Fair, pk=pk)
    today = timezone.localdate()
    days = days_of(fair)
    lacking = {} if is_over(fair, today) else earliest_by_project(last_order_days(today))
    context = SECTION | {
        "fair": fair,
        "days": days,
        "over": is_over(fair, today),
        "ahead": (fair.begins_on - today).days,
        "ready_in": (days.ready_on - today).days,
        "going": going_to([fair], lacking, measures_of(request.studio), today)[fair.pk],
        "open_projects": _open_projects() if request.user.may_change else (),
    }
    return page(request, "projects/fair_page.html", context)


@OWNERS
def fair_new(request: HttpRequest) -> HttpResponse:
    form = FairForm(posted(request), measures=measures_of(request.studio))
    if request.method == "POST" and (made := served(form, lambda: save_fair(facts=form.facts()))):
        messages.success(request, f"{made.name} is noted. Choose the projects that must be ready for it.")
        _say_if_over(request, made)
        return redirect("fair-page", made.pk)
    return page(request, "projects/fair_form.html", SECTION, form)


@OWNERS
def fair_edit(request: HttpRequest, pk: int) -> HttpResponse:
    fair = get_object_or_404(Fair, pk=pk)
    form = FairForm(posted(request), initial=FairForm.texts_of(fair), measures=measures_of(request.studio))

    def write() -> Fair:
        return save_fair(facts=form.facts(), pk=pk, version=form.cleaned_data["version"] or 0)

    if request.method == "POST" and (kept := served(form, write)):
        messages.success(request, f"{kept.name} is changed.")
        _say_if_over(request, kept)
        return redirect("fair-page", pk)
    return page(request, "projects/fair_form.html", SECTION | {"fair": fair}, form)


@OWNERS
def fair_remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Says first what it will do."""
    fair = get_object_or_404(Fair, pk=pk)
    form = RefusableForm(posted(request))
    if request.method == "POST" and (name := served(form, lambda: remove_fair(pk=pk))):
        messages.success(request, f"{name} is removed.")
        return redirect("fairs")
    context = SECTION | {"fair": fair, "linked": fair.projects.no_trials().by_need()}
    return page(request, "projects/fair_remove.html", context, form)


@OWNERS
@require_POST
def fair_projects(request: HttpRequest, pk: int) -> HttpResponse:
    """Which open projects must be ready for it."""
    fair = get_object_or_404(Fair, pk=pk)
    form = ChooseForm(request.POST, rows=_open_projects())

    def write() -> tuple[int, int]:
        said = form.cleaned_data
        return choose_projects(pk=pk, chosen=said["projects"], offered=said["offered"], was=said["was"])

    if (moved := served(form, write)) is None:
        for sentences in form.errors.values():
            messages.error(request, " ".join(sentences))
    elif any(moved):
        came, went = moved
        words = [f"{counted(came, 'project')} added"] * bool(came) + [
            f"{counted(went, 'project')} taken out"
        ] * bool(went)
        messages.success(request, f"{fair.name}: {' and '.join(words)}.")
    else:
        messages.info(request, "Nothing changed: the same projects are for this fair.")
    return redirect("fair-page", pk)


@OWNERS
@require_POST
def project_fair(request: HttpRequest, pk: int) -> HttpResponse:
    """The small choice on a project's page."""
    project = get_object_or_404(Project.objects.no_trials(), pk=pk)
    form = FairOfProjectForm(request.POST, fairs=fairs_offered(project))
    if not form.is_valid():
        messages.error(request, " ".join(form.errors["fair"]))
        return redirect("project-page", pk)
    try:
        kept = set_fair(project_id=pk, fair_id=form.cleaned_data["fair"])
    except Refusal as error:
        messages.error(request, error.message)
    else:
        where = kept.fair.name if kept.fair else "no fair"
        messages.success(request, f"{kept.name} must be ready for {where}.")
    return redirect("project-page", pk)


def fair_part(project: Project | None, *, may_plan: bool) -> dict[str, Any] | None:
    """What the page of a project says of its fair; None where there is nothing to say or to choose."""
    if project is None or project.trial_of_id:
        return None
    today = timezone.localdate()
    offered = fairs_offered(project)
    fair = next((one for one in offered if one.pk == project.fair_id), None)
    form = None
    if may_plan and offered:
        form = FairOfProjectForm(initial={"fair": project.fair_id}, fairs=offered)
    if fair is None and form is None:
        return None
    return {
        "fair": fair,
        "ready_on": days_of(fair).ready_on if fair else None,
        "over": bool(fair) and is_over(fair, today),
        "too_late": too_late(project, fair, today) if fair else (),
        "form": form,
    }


def fairs_offered(project: Project) -> list[Fair]:
    """Those that are not over, and the one that the project is for."""
    today = timezone.localdate()
    ahead = Q(ends_on__gte=today) | Q(ends_on=None, begins_on__gte=today)
    return list(Fair.objects.filter(ahead | Q(pk=project.fair_id)).by_day())


def _coming_and_past(today: date) -> tuple[list[Fair], list[Fair]]:
    """Those ahead, the next first; those that are over, the last first."""
    own = Count("projects", filter=Q(projects__trial_of=None))
    rows = list(Fair.objects.by_day().annotate(project_count=own))
    past = [fair for fair in rows if is_over(fair, today)]
    return [fair for fair in rows if not is_over(fair, today)], past[::-1]


def _open_projects() -> list[Project]:
    rows = Project.objects.open().by_need().select_related("fair")
    return list(rows.only("name", "need_on", "fair__name", "fair__begins_on"))


def _say_if_over(request: HttpRequest, fair: Fair) -> None:
    if is_over(fair, timezone.localdate()):
        messages.warning(request, "This fair is over already. It is kept, and stands among the past ones.")
