"""What can be done with a project."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from projects.models import Project
from projects.services import planning, reserving
from projects.wording import together
from stash.access import HELPERS_ONLY, OWNERS
from stash.services.refusal import Refusal


@HELPERS_ONLY
@require_POST
def reserve(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project, pk=pk)
    version = request.POST.get("version", "")
    if version and not (version.isascii() and version.isdecimal() and len(version) < 10):
        messages.error(request, "This page is too old to reserve from. Read it again, then reserve.")
    else:
        reserve_and_say(request, project, int(version) if version else None)
    return redirect("project-page", pk)


@HELPERS_ONLY
@require_POST
def release(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project, pk=pk)
    reserving.release_project(pk=pk)
    messages.success(request, f"{project.name} holds no yarn any more: all of it is free again.")
    return redirect("project-page", pk)


@OWNERS
@require_POST
def new_grist(request: HttpRequest, pk: int) -> HttpResponse:
    get_object_or_404(Project, pk=pk)
    try:
        reserving.take_new_grist(pk=pk)
    except Refusal as error:
        messages.error(request, error.message)
    else:
        messages.success(request, "The project reckons with the yarns' present lengths per weight now.")
    return redirect("project-page", pk)


@OWNERS
@require_POST
def put_away(request: HttpRequest, pk: int) -> HttpResponse:
    get_object_or_404(Project, pk=pk)
    back = request.POST.get("back") == "1"
    try:
        project = planning.put_away(pk=pk, back=back)
    except Refusal as error:
        messages.error(request, error.message)
    else:
        done = "taken out again" if back else "put away; it is under “put away” in the list"
        messages.success(request, f"{project.name} is {done}.")
    return redirect("project-page", pk)


def reserve_and_say(request: HttpRequest, project: Project, version: int | None = None) -> None:
    """Reserve, and say what came of it."""
    try:
        outcome = reserving.reserve_project(pk=project.pk, version=version)
    except Refusal as error:
        messages.error(request, error.message)
        return
    names = outcome.names
    said = f"Yarn for {project.name} is put aside."
    if outcome.short_keys:
        short = together(names[key] for key in outcome.short_keys)
        messages.warning(request, f"{said} {short} did not suffice: what is missing is noted as a shortage.")
    elif outcome.bare_keys:
        bare = together(names[key] for key in outcome.bare_keys)
        messages.success(request, f"{said} {bare} without the whole buffer.")
    else:
        messages.success(request, f"{said} The buffer is in it.")
