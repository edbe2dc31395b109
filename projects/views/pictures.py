"""The cloth picture."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from projects import cloth as drawing
from projects.models import Project
from stash.access import VIEWERS
from stash.calc.needs import work_out
from stash.drawing import cloth_png


@VIEWERS
def cloth(request: HttpRequest, pk: int) -> HttpResponse:
    """A PNG of the saved plan's cloth; `?small=1` a corner of it for lists. The address changes with the plan."""
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    shades = {row.key: row.shade for row in project.shades.all()}
    picture = drawing.lay_out(
        work_out(project.plan), project.structure, shades, small=request.GET.get("small") == "1"
    )
    answer = HttpResponse(cloth_png(picture), content_type="image/png")
    current = request.GET.get("v") == drawing.mark(project.version, project.structure, shades)
    answer["Cache-Control"] = "private, max-age=31536000, immutable" if current else "no-cache"
    return answer
