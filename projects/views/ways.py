"""Ways out of a shortage: what they are, trying one, moving a later project's reservation."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.cache import patch_vary_headers

from projects.around import Around, around
from projects.models import Project
from projects.services.moving import move_reservation
from projects.services.trials import make_trial
from projects.ways import Ways, change_by, ways_of
from projects.wish_words import fallen
from projects.wording import together
from stash.access import HELPERS_ONLY, OWNERS_CHANGE
from stash.calc.errors import CalcError
from stash.calc.writing import Measures
from stash.measuring import measures_of
from stash.services.refusal import Refusal
from stash.views.answers import key_in


@OWNERS_CHANGE
def project_ways(request: HttpRequest, pk: int) -> HttpResponse:
    """The ways out of the plan as it is kept: a page of its own, or the part of the project's page that loads apart."""
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    measures = measures_of(request.studio)
    near = around(project, measures)
    found = ways_of(project, near, measures)
    if request.method == "POST":
        return _try(request, project, near, found)
    first = project.trial_of or project
    context = {
        "section": "projects",
        "project": project,
        "ways": found,
        "trials": first.trials.order_by("pk").only("name", "trial_of"),
        "wanting": [(one.key, near.shades[one.key].name) for one in found.found.before.short]
        if not project.open_keys
        else [],
        "may_try": request.user.may_change and not project.closed_at,
        "may_move": request.user.may_handle and not project.closed_at and not project.trial_of_id,
        "others_hold": near.others_hold,
    }
    context["part"] = request.htmx and not request.htmx.history_restore_request
    template = "projects/_ways.html" if context["part"] else "projects/project_ways.html"
    answer = render(request, template, context)
    patch_vary_headers(answer, ["HX-Request"])
    return answer


def _try(request: HttpRequest, project: Project, near: Around, found: Ways) -> HttpResponse:
    """Make a copy with the change, and show the two side by side. The way is sought anew: the shelf may have changed."""
    try:
        change = change_by(request.POST.get("way", ""), found.found, project, near)
        if change is None:
            raise Refusal(
                "The shelf or the plan has changed: that is no way out any more. These are the ways now."
            )
        trial = make_trial(pk=project.pk, change=change, version=_version(request))
    except (Refusal, CalcError) as error:
        messages.error(request, error.message)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        for sentence in fallen(project.shades.all(), change.shades.values()):
            messages.warning(request, sentence)
        return redirect("project-beside", trial.pk)
    return redirect("project-ways", project.pk)


@HELPERS_ONLY
def project_move(request: HttpRequest, pk: int, claim: int) -> HttpResponse:
    """Ask before a later project's reservation moves, saying what it would then lack; then move it."""
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    measures = measures_of(request.studio)
    if request.method == "POST":
        return _moved(request, project, claim, measures)
    near = around(project, measures)
    told = next((one for one in ways_of(project, near, measures).told if one.move_from == claim), None)
    if told is None:
        messages.error(request, "Nothing of that reservation is needed any more. These are the ways out now.")
        return redirect("project-ways", pk)
    context = {"section": "projects", "project": project, "told": told, "other": near.later[claim]}
    return render(request, "projects/project_move.html", context)


def _moved(request: HttpRequest, project: Project, claim: int, measures: Measures) -> HttpResponseRedirect:
    try:
        moved = move_reservation(pk=project.pk, from_claim=claim, version=_version(request))
    except Refusal as error:
        messages.error(request, error.message)
        return redirect("project-ways", project.pk)
    given = together(f"{measures.long_length(um, 'down')} of {name}" for name, um in moved.given_um.items())
    said = f"{given} went from {moved.other.name} to {project.name}, and is put aside for it."
    if moved.lacking_um:
        lacking = together(
            f"{measures.long_length(um, 'up')} of {name}" for name, um in moved.lacking_um.items()
        )
        messages.warning(
            request, f"{said} {moved.other.name} now lacks {lacking}: it is noted as its shortage."
        )
    else:
        messages.success(request, f"{said} {moved.other.name} lacks nothing for it.")
    return redirect("project-page", project.pk)


def _version(request: HttpRequest) -> int | None:
    """The version of the plan that was looked at; 0, which no plan has, for anything but a number."""
    typed = request.POST.get("version", "")
    return key_in(typed) if typed else None
