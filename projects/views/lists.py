"""The list of projects with their verdicts."""

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django_tables2 import RequestConfig

from projects import cloth
from projects.judging import Judged, judge_all
from projects.models import Project, Stage
from projects.proposing.run_desk import waiting_run
from projects.tables.projects import ProjectTable
from projects.wording import one_line
from stash.access import VIEWERS
from stash.measuring import measures_of
from stash.models.folding import fold


@dataclass(frozen=True, slots=True)
class Row:
    project: Project
    judged: Judged
    sentence: str
    cloth_mark: str
    held: bool
    taking: str

    @property
    def under_way(self) -> bool:
        """From the loom on, what the shelf would say of weaving it once more is no news."""
        return self.project.stage not in (Stage.PLANNED, Stage.WOUND)


def _taking(project: Project) -> str:
    """How far it is, where its need lies no longer ahead: its verdict would be that of weaving all of it once more."""
    if project.was_wound:
        return "Wound: the yarn of its warp is taken"
    return "Yarn taken" if project.was_taken else ""


@VIEWERS
def project_list(request: HttpRequest) -> HttpResponse:
    """A page of projects: the same number of queries however many there are."""
    away = request.GET.get("away") == "1"
    found = Project.objects.no_trials().exclude(closed_at=None) if away else Project.objects.open()
    stage = request.GET.get("stage", "")
    if stage in Stage.values:
        found = found.filter(stage=stage)
    sought = request.GET.get("q", "").strip()[:100]
    for word in fold(sought).split():
        found = found.filter(search__contains=word)
    table = ProjectTable(found.by_need().listed().with_holding().with_taking())
    RequestConfig(request, paginate={"per_page": 25, "silent": True}).configure(table)
    measures = measures_of(request.studio)
    rows = [
        Row(
            project,
            judged,
            one_line(judged, measures),
            cloth.mark(project.version, project.structure, {line.key: line.shade for line in judged.lines}),
            project.holds,
            _taking(project),
        )
        for project, judged in judge_all([row.record for row in table.paginated_rows])
    ]
    context = {
        "section": "projects",
        "table": table,
        "rows": rows,
        "away": away,
        "q": sought,
        "stages": Stage,
        "stage": stage if stage in Stage.values else "",
        "proposal": None if away else waiting_run(request.user.pk),
    }
    return render(request, "projects/project_list.html", context)
