"""Another shade in place of one: for a project, and for a shade that is low or no more made."""

from dataclasses import dataclass

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from projects.around import Around, around
from projects.instead import Instead, alike_to, change_to, instead_of, wanting
from projects.models import Project, ProjectShade
from projects.services.trials import make_trial
from stash.access import OWNERS_CHANGE, VIEWERS
from stash.calc.errors import CalcError
from stash.measuring import measures_of
from stash.models import Shade
from stash.services.refusal import Refusal
from stash.views.answers import key_in

SHOWN = 50


@OWNERS_CHANGE
def project_instead(request: HttpRequest, pk: int, key: str) -> HttpResponse:
    """What may stand for the shade under a key of the plan as it is kept; one of them is tried beside it."""
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    measures = measures_of(request.studio)
    near = around(project, measures)
    if key not in near.shades:
        raise Http404(f"The plan has no shade under {key}.")
    try:
        found = instead_of(project, key, near, measures)
    except CalcError as error:
        messages.error(request, f"{near.shades[key].name} is not used in this plan: {error.message}")
        return redirect("project-page", pk)
    if request.method == "POST":
        return _try(request, project, key, near, found)
    context = {
        "section": "projects",
        "project": project,
        "key": key,
        "shade": near.shades[key],
        "found": found,
        "may_try": request.user.may_change and not project.closed_at,
    }
    return render(request, "projects/project_instead.html", context)


def _try(request: HttpRequest, project: Project, key: str, near: Around, found: Instead) -> HttpResponse:
    """The substitute is sought anew: the shelf may have changed."""
    try:
        shade_id = key_in(request.POST.get("shade", "")) or 0
        change = change_to(project, key, near, found, shade_id, request.POST.get("sett", ""))
        if change is None:
            raise Refusal(
                "The shelf or the plan has changed: that shade cannot stand for it any more. These can now."
            )
        trial = make_trial(pk=project.pk, change=change, version=key_in(request.POST.get("version", "")) or 0)
    except (Refusal, CalcError) as error:
        messages.error(request, error.message)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        return redirect("project-beside", trial.pk)
    return redirect("project-instead", project.pk, key)


@dataclass(frozen=True, slots=True)
class WantingRow:
    project: Project
    key: str
    need: str


@VIEWERS
def shade_instead(request: HttpRequest, shade_pk: int) -> HttpResponse:
    """What may stand for a shade, and the projects that would need it to."""
    shade = get_object_or_404(Shade.objects.select_related("yarn"), pk=shade_pk)
    measures = measures_of(request.studio)
    rows = wanting(shade)
    on_shelf, known = alike_to(shade, sum(_need_um(row) for row in rows), measures)
    context = {
        "section": "yarn",
        "shade": shade,
        "rows": [
            WantingRow(row.project, row.key, measures.long_length(_need_um(row), "up"))
            for row in rows[:SHOWN]
        ],
        "more": max(0, len(rows) - SHOWN),
        "on_shelf": on_shelf,
        "known": known,
    }
    return render(request, "projects/shade_instead.html", context)


def _need_um(row: ProjectShade) -> int:
    """The bare need that is stored with the plan."""
    return row.ends * (row.warp_um or row.project.warp_um) + row.need().weft_um(row.project.pieces_in_all)
