"""A project as a file: saved here, opened in another studio."""

from datetime import date

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from projects.forms.files import OpenProjectForm, ProjectFileForm, name_here
from projects.models import Project
from projects.services.opening import open_project
from projects.sharing.form import MOST_BYTES, SUFFIX
from projects.sharing.matching import matched
from projects.sharing.reading import ProjectInFile, read_project_file, too_large
from projects.sharing.writing import project_file
from projects.wording import together
from stash.access import OWNERS, VIEWERS
from stash.calc.errors import CalcError
from stash.calc.writing import Measures
from stash.measuring import measures_of
from stash.services.refusal import Refusal
from stash.views.answers import page


@VIEWERS
@require_safe
def project_save(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project, pk=pk)
    answer = HttpResponse(project_file(project), content_type="application/json")
    name = f"{slugify(project.name) or 'project'}{SUFFIX}"
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name)
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@OWNERS
def project_open(request: HttpRequest) -> HttpResponse:
    """First the file, then what it holds and which shades it means here; only then a project is made."""
    if request.method == "POST" and "text" in request.POST:
        return _confirmed(request)
    sent = request.method == "POST"
    form = ProjectFileForm(request.POST if sent else None, request.FILES if sent else None)
    if sent:
        try:
            if getattr(request, "upload_too_large", False):
                raise too_large()
            if form.is_valid():
                data = form.cleaned_data["file"].read(MOST_BYTES + 1)
                found = read_project_file(data)
                return _ask(request, found, data.decode("utf-8-sig"))
        except Refusal as error:
            form.errors.clear()
            form.refuse(error)
    return page(request, "projects/project_open.html", {"section": "projects"}, form)


project_open.most_upload = MOST_BYTES  # type: ignore[attr-defined]


def _ask(request: HttpRequest, found: ProjectInFile, text: str) -> HttpResponse:
    form = OpenProjectForm(
        matches=matched(found.shades), initial={"text": text, "name": name_here(found.name)}
    )
    return _page(request, found, form)


def _confirmed(request: HttpRequest) -> HttpResponse:
    try:
        found = read_project_file(request.POST["text"])
    except Refusal as error:
        form = ProjectFileForm({}, {})
        form.errors.clear()
        form.refuse(error)
        return page(request, "projects/project_open.html", {"section": "projects"}, form)
    form = OpenProjectForm(request.POST, matches=matched(found.shades))
    if form.is_valid():
        typed = form.cleaned_data
        need_on: date | None = typed["need_on"]
        try:
            project = open_project(
                found=found,
                shades=form.shades(),
                name=typed["name"],
                occasion=typed["occasion"],
                need_on=need_on,
            )
        except (Refusal, CalcError, ValidationError) as error:
            form.refuse(error)
        else:
            messages.success(request, f"{project.name} is opened. Nothing is reserved for it yet.")
            if project.open_keys:
                messages.warning(
                    request, f"{together(project.open_keys.split())} of the plan stays open: name its shade."
                )
            return redirect("project-page", project.pk)
    return _page(request, found, form)


def _page(request: HttpRequest, found: ProjectInFile, form: OpenProjectForm) -> HttpResponse:
    context = {"section": "projects", "found": found, "facts": _facts(found, measures_of(request.studio))}
    return page(request, "projects/project_open_ask.html", context, form)


def _facts(found: ProjectInFile, measures: Measures) -> list[tuple[str, str]]:
    """What a person checks before letting it in."""
    plan, worked = found.plan, found.worked
    short = measures.short_length
    facts = [
        ("Pieces", f"{plan.pieces:,} {found.piece_name}"),
        ("Kits", f"{plan.warps:,}, a warp each" if plan.warps > 1 else ""),
        ("Finished size, across × along the warp", f"{short(plan.across_um)} × {short(plan.along_um)}"),
        ("Sett", measures.density(plan.sett)),
        ("Picks", measures.density(plan.picks, "picks")),
        ("Ends", f"{worked.width.ends:,}"),
        ("Warp length", measures.warp_length(worked.length.warp_um)),
    ]
    return [fact for fact in facts if fact[1]]
