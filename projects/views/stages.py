"""Moving a project from step to step."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from projects.forms.stages import CutOffForm
from projects.models import Project, Stage
from projects.services.cutting_off import cut_off
from projects.services.stages import set_stage
from stash.access import HELPERS_ONLY
from stash.measuring import measures_of
from stash.services.refusal import Refusal
from stash.views.answers import page, posted, served


@HELPERS_ONLY
@require_POST
def project_stage(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project, pk=pk)
    chosen = request.POST.get("stage", "")
    if chosen not in Stage.values:
        messages.error(request, "Choose a step of the line.")
        return redirect("project-page", pk)
    stage = Stage(chosen)
    if stage == Stage.CUT_OFF and request.POST.get("asked") != "1" and project.stage != stage:
        return redirect("project-cut-off", pk)
    try:
        moved = set_stage(pk=pk, stage=stage, by=request.user, stood=request.POST.get("stood"))
    except Refusal as error:
        messages.error(request, error.message)
    else:
        messages.success(
            request, f"{moved.name} stands at “{stage.label}” now. Nothing changed on the shelf."
        )
    return redirect("project-page", pk)


@HELPERS_ONLY
def project_cut_off(request: HttpRequest, pk: int) -> HttpResponse:
    """What is left of the warp on the loom is asked when the cloth comes off: later nobody knows."""
    project = get_object_or_404(Project.objects.select_related("loom"), pk=pk)
    form = CutOffForm(posted(request), project=project, measures=measures_of(request.studio))

    def write() -> Project:
        loom = form.cleaned_data["loom"]
        return cut_off(
            pk=pk,
            by=request.user,
            loom_id=loom.pk if loom else None,
            left=form.rest(),
            went_well=form.cleaned_data.get("went_well", False),
            stood=form.cleaned_data["stood"] or None,
        )

    if request.method == "POST" and served(form, write):
        rest = form.rest()
        left = (
            f" {form.measures.warp_length(rest.um, 'down')} of {rest.ends:,} ends are noted with "
            f"{form.cleaned_data['loom']}: a warp of as many ends in the same order can be tied on to them."
            if rest
            else ""
        )
        messages.success(request, f"{project.name} is cut off.{left} Measure it before it is washed.")
        return redirect("project-page", pk)
    return page(request, "projects/project_cut_off.html", {"section": "projects", "project": project}, form)
