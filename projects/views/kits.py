"""The sheet by which kits of a class are made up and handed out."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from projects.kits import kit_sheet
from projects.models import Project
from projects.outputs import outputs
from stash.access import VIEWERS
from stash.calc.needs import work_out
from stash.measuring import measures_of


@VIEWERS
def project_kits(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    if project.warps == 1:
        messages.warning(
            request, "This plan is of one warp. Say in it how many kits are wanted, then print their sheet."
        )
        return redirect("project-page", pk)
    worked = work_out(project.plan)
    found = outputs(
        worked=worked,
        shades={row.key: row.shade for row in project.shades.all()},
        weave=project.weave,
        piece_name=project.piece_name,
        project=project,
        measures=measures_of(request.studio),
        cloth_src="none",
    )
    context = {"project": project, "out": found, "sheet": kit_sheet(project, worked, found)}
    return render(request, "projects/project_kits.html", context)
