"""Who plans with a shade: asked before the last of it goes somewhere else."""

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from projects.judging import ShadeLine, judge_all
from projects.models import Project
from projects.wording import flag
from stash.access import VIEWERS
from stash.measuring import measures_of
from stash.models import Shade
from stash.tables.last_of import last_of

SHOWN = 50


@dataclass(frozen=True, slots=True)
class WantingRow:
    project: Project
    need: str
    mass: str
    wished: str
    flag_class: str
    flag_text: str


@VIEWERS
def shade_wanted(request: HttpRequest, shade_pk: int) -> HttpResponse:
    """The projects still to be woven with it; whoever needs it first stands first."""
    shade = get_object_or_404(Shade.objects.select_related("yarn"), pk=shade_pk)
    measures = measures_of(request.studio)
    found = Project.objects.to_weave().by_need().listed().filter(shades__shade=shade)

    def row(project: Project, line: ShadeLine) -> WantingRow:
        return WantingRow(
            project,
            measures.long_length(line.need_um, "up"),
            measures.mass(line.grist.mass_mg_of(line.need_um), "up"),
            line.wished,
            *flag(line, measures),
        )

    rows = [
        row(project, line)
        for project, judged in judge_all(found[:SHOWN])
        for line in judged.lines
        if line.shade.pk == shade.pk and line.needs_anything
    ]
    context = {
        "section": "projects",
        "shade": shade,
        "yarn": shade.yarn,
        "rows": rows,
        "more": max(0, found.count() - SHOWN) if len(rows) >= SHOWN else 0,
        "last_of": last_of(shade, measures),
    }
    return render(request, "projects/shade_wanted.html", context)
