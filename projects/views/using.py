"""What a project really took: marking the warp as wound, weighing back."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from projects.forms.using import WeighBackForm
from projects.models import Project
from projects.services.stages import weigh_cones_back, wind_warp
from projects.used import cones_to_weigh_back
from stash.access import HELPERS_ONLY
from stash.forms.fields import MeasuredForm
from stash.measuring import measures_of
from stash.models import Reservation
from stash.models.claim import Use
from stash.views.answers import page, posted, served, tell_undercut


@HELPERS_ONLY
def project_wound(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what will go off the shelf as warp, and let it go."""
    project = get_object_or_404(Project, pk=pk)
    lines = list(
        Reservation.objects.filter(claim=project.claim_id, use=Use.WARP)
        .select_related("cone__shade", "cone__place")
        .order_by("cone__code")
        if project.claim_id
        else ()
    )
    form = MeasuredForm(posted(request), measures=measures_of(request.studio))

    def write() -> int:
        return sum(-entry.change_mg for entry in wind_warp(pk=pk, by=request.user))

    if request.method == "POST" and (gone_mg := served(form, write)) is not None:
        messages.success(
            request,
            f"The warp is wound: {form.measures.mass(gone_mg)} went off the shelf, and its reservation with it. "
            "The weft stays reserved.",
        )
        return redirect("project-page", pk)
    context = {"section": "projects", "project": project, "lines": lines}
    return page(request, "projects/project_wound.html", context, form)


@HELPERS_ONLY
def project_weigh_back(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project, pk=pk)
    cones = cones_to_weigh_back(project)
    form = WeighBackForm(posted(request), cones=cones, measures=measures_of(request.studio))

    def write() -> int:
        return len(weigh_cones_back(pk=pk, backs=form.backs(), by=request.user))

    if request.method == "POST" and (count := served(form, write)):
        what = "1 cone is" if count == 1 else f"{count} cones are"
        messages.success(
            request, f"{what} weighed back. What it took stands below; its reservation on them is given back."
        )
        for cone in cones_to_weigh_back(project):
            if cone.pk in form.backs():
                tell_undercut(request, cone, form.measures)
        return redirect("project-page", pk)
    context = {"section": "projects", "project": project, "cones": cones}
    return page(request, "projects/project_weigh_back.html", context, form)
