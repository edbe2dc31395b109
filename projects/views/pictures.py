"""The cloth: its picture on pages and in lists, and a page to look at it from near."""

from collections.abc import Mapping

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotModified, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from projects import cloth as drawing
from projects.cloth import Face
from projects.cloth_view import ClothView, cloth_view, zooms_of
from projects.models import Project
from projects.weave_words import floats_in_words, weave_remarks
from stash.access import VIEWERS
from stash.calc.cloth import ClothPicture
from stash.calc.needs import work_out
from stash.drawing import cloth_png
from stash.measuring import measures_of
from stash.models import Shade


@VIEWERS
def cloth(request: HttpRequest, pk: int) -> HttpResponse:
    """A PNG of the saved plan's cloth; `?small=1` a corner of it for lists, `?strip=0` a part of its page.

    The address changes with the plan, so that a browser may keep what it leads to.
    """
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    shades = _shades(project)
    mark = drawing.mark(project.version, project.structure, shades)
    if request.headers.get("If-None-Match") == f'"{mark}"':
        return HttpResponseNotModified()
    answer = HttpResponse(cloth_png(_picture(request.GET, project, shades)), content_type="image/png")
    answer["ETag"] = f'"{mark}"'
    current = request.GET.get("v") == mark
    answer["Cache-Control"] = "private, max-age=31536000, immutable" if current else "no-cache"
    return answer


@VIEWERS
def cloth_page(request: HttpRequest, pk: int) -> HttpResponse:
    """A whole piece, front or back, on the loom or finished, in strips that scroll."""
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    shades = _shades(project)
    view = _view(request.GET, project)
    mark = drawing.mark(project.version, project.structure, shades)
    start = f"{reverse('project-cloth', args=[project.pk])}?{_query(view.face, view.zoom)}&v={mark}"
    measures = measures_of(request.studio)
    across, along = (measures.short_length(um, 1) for um in (view.across_um, view.along_um))
    context = {
        "section": "projects",
        "project": project,
        "view": view,
        "strips": [(strip, f"{start}&strip={at}") for at, strip in enumerate(view.strips)],
        "words": drawing.in_words(view.worked, view.weave, shades),
        "size": f"{across} across, {along} along",
        "floats": floats_in_words(view.worked, view.weave, measures),
        "weave": view.weave,
        "remarks": list(weave_remarks(view.worked, view.weave, measures)),
        "sides": _turns(view, "the face", "the back"),
        "times": _turns(view, "as woven", "finished"),
        "zooms": [
            (f"{zoom} times" if zoom > 1 else "whole width", _query(view.face, zoom), zoom == view.zoom)
            for zoom in zooms_of(view.worked, view.weave)
        ],
    }
    return render(request, "projects/project_cloth.html", context)


def _turns(view: ClothView, first: str, second: str) -> list[tuple[str, str, bool]]:
    """(words, query, is it this one) of the two ways of looking of one kind."""
    face = view.face
    found = []
    for words in (first, second):
        one = (
            Face(words == "the back", face.finished)
            if first == "the face"
            else Face(face.back, words == "finished")
        )
        found.append((words, _query(one, view.zoom), one == face))
    return found


def _picture(asked: QueryDict, project: Project, shades: Mapping[str, Shade]) -> ClothPicture:
    if "strip" not in asked:
        small = asked.get("small") == "1"
        return drawing.lay_out(work_out(project.plan), project.weave, shades, small=small)
    view = _view(asked, project)
    try:
        strip = view.strips[int(asked["strip"])]
    except (ValueError, IndexError):
        raise Http404("The cloth has no such strip.") from None
    return view.draw(strip, shades)


def _view(asked: QueryDict, project: Project) -> ClothView:
    """What is asked for; whatever cannot be read is the face as woven, whole."""
    worked, weave = work_out(project.plan), project.weave
    face = Face(asked.get("side") == "back", asked.get("cloth") == "finished")
    zooms = {str(zoom): zoom for zoom in zooms_of(worked, weave)}
    return cloth_view(worked, weave, face, zooms.get(asked.get("zoom", ""), 1))


def _query(face: Face, zoom: int) -> str:
    side, cloth = "back" if face.back else "face", "finished" if face.finished else "woven"
    return f"side={side}&cloth={cloth}&zoom={zoom}"


def _shades(project: Project) -> dict[str, Shade]:
    return {row.key: row.shade for row in project.shades.all()}
