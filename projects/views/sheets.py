"""Sheets to print."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from projects.holding import holding_of
from projects.models import Project
from projects.outputs import kept_outputs
from projects.views.plain import plan_facts
from stash.access import VIEWERS
from stash.measuring import measures_of


@VIEWERS
def project_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    measures = measures_of(request.studio)
    found = kept_outputs(project, measures)
    context = {
        "project": project,
        "out": found,
        "facts": plan_facts(project, measures),
        "holding": holding_of(project),
    }
    return render(request, "projects/project_sheet.html", context)
