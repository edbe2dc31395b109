"""Tell me the most: what stops one from making more of a project, and what the shelf gives at all."""

from dataclasses import dataclass

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from projects import cloth
from projects.forms.more import MoreForm
from projects.models import Project
from projects.stock import ShelfReader, held_by
from projects.ways import judged_of
from projects.weavable import Weavable, weavable
from projects.wish_words import wished_by_shade
from projects.wording import most_sentence, short_by
from stash.access import VIEWERS
from stash.calc.most import Stock, most_pieces
from stash.calc.ways.more import More, more_pieces
from stash.calc.ways.tried import try_plan
from stash.calc.writing import Measures
from stash.measuring import measures_of
from stash.models import Shade
from stash.views.answers import page

USUALLY = 6
"""So many more are told at first."""
A_PAGE = 25


@dataclass(frozen=True, slots=True)
class MoreRow:
    more: int
    pieces: int
    warp_um: int
    lacks: list[str]
    """Each shade that is short, with its figures."""


@VIEWERS
def project_more(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    measures = measures_of(request.studio)
    form = MoreForm(
        request.GET if "more" in request.GET else None, measures=measures, initial={"more": USUALLY}
    )
    up_to = form.cleaned_data["more"] if form.is_bound and form.is_valid() else USUALLY
    stock, shades = _stock(project), {row.key: row.shade for row in project.shades.all()}
    wished = wished_by_shade(project.shades.all())
    now = judged_of(try_plan(project.plan, stock), shades, wished)
    most = most_pieces(project.plan, stock)
    context = {
        "section": "projects",
        "project": project,
        "lead": _lead(project, most.pieces),
        "rest": most_sentence(most, now, measures, project.pieces, project.piece_name),
        "state": "enough" if most.pieces >= project.pieces else "short",
        "rows": [_row(one, shades, wished, measures) for one in more_pieces(project.plan, stock, up_to)],
    }
    return page(request, "projects/project_more.html", context, form)


def _lead(project: Project, most: int) -> str:
    more, things = most - project.pieces, project.piece_name
    if more > 0:
        return f"{'One' if more == 1 else f'{more:,}'} more can be woven, {most:,} {things} in all."
    if not more:
        return "Not one more can be woven."
    return f"The plan itself is more than the shelf gives, by {-more:,} of its {project.pieces:,} {things}."


def _stock(project: Project) -> dict[str, Stock]:
    rows = list(project.shades.all())
    claim_id = project.judged_as
    reader = ShelfReader({row.shade_id for row in rows}, held_by([claim_id]))
    return {row.key: Stock(row.grist, reader.of_shade(row.shade_id, claim_id)) for row in rows}


def _row(one: More, shades: dict[str, Shade], wished: dict[int, str], measures: Measures) -> MoreRow:
    judged = {line.key: line for line in judged_of(one.tried, shades, wished).lines}
    lacks = [short_by(judged[found.key], measures) for found in one.missing if found.key in judged]
    tried = one.tried
    return MoreRow(one.more, tried.plan.pieces, tried.worked.length.warp_um, lacks)


@dataclass(frozen=True, slots=True)
class WeavableRow:
    found: Weavable
    cloth_mark: str
    state: str
    words: str


@VIEWERS
def weavable_list(request: HttpRequest) -> HttpResponse:
    """A page of open plans that are not begun: the same number of queries however many there are."""
    plans = Project.objects.to_weave().by_need().with_shades().prefetch_related("beams").with_holding()
    shown = Paginator(plans, A_PAGE).get_page(request.GET.get("page"))
    measures = measures_of(request.studio)
    rows = [_weavable_row(found, measures) for found in weavable(list(shown.object_list))]
    context = {"section": "projects", "page": shown, "rows": rows}
    return render(request, "projects/weavable.html", context)


def _weavable_row(found: Weavable, measures: Measures) -> WeavableRow:
    project = found.project
    shades = {row.key: row.shade for row in project.shades.all()}
    if project.open_keys:
        words = f"No shade stands for {project.open_keys.replace(' ', ', ')} yet."
    elif not found.stops_at:
        words = "The shelf is no limit."
    else:
        words = f"One more stops at {found.stops_at}: {measures.long_length(found.missing_um, 'up')} missing."
    state = "enough" if found.enough else "tight" if found.pieces else "short"
    return WeavableRow(found, cloth.mark(project.version, project.structure, shades), state, words)
