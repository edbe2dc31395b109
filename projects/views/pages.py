"""A project's page: plan, need, verdict."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST

from projects.bench.summary import bench_of
from projects.forms.plan import PlanForm, initial_of, initial_of_new, keys_for, shade_field, typed_keys
from projects.forms.wishes import WishesForm
from projects.gear import read_shed
from projects.holding import holding_of
from projects.models import Project
from projects.outputs import Outputs, outputs, pictured_outputs
from projects.services.planning import save_project
from projects.used import used_of
from projects.views.actions import reserve_and_say
from projects.views.fairs import fair_part
from projects.views.gear_part import advice_part, gear_part
from projects.views.plain import plan_facts
from projects.views.record import record_of
from projects.ways import wants_a_way
from projects.wish_words import fallen, out_of_reach
from stash.access import OWNERS, OWNERS_CHANGE
from stash.calc.errors import CalcError
from stash.calc.needs import work_out
from stash.calc.writing import Measures
from stash.measuring import measures_of
from stash.models import Shade
from stash.services.refusal import ChangedMeanwhile, Refusal

SHADES_OFFERED = 30


@dataclass(frozen=True, slots=True)
class Clash:
    """A field whose text differs from what somebody else saved meanwhile."""

    label: str
    yours: str
    theirs: str


@OWNERS_CHANGE
def project_page(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project.objects.with_shades().with_trials(), pk=pk)
    if request.method == "POST":
        return _posted(request, project)
    form = plan_form(request, project)
    return _page(request, project, form, pictured_outputs(project, measures_of(request.studio)))


@OWNERS
def project_new(request: HttpRequest) -> HttpResponse:
    if request.method == "POST":
        return _posted(request, None)
    return _page(request, None, plan_form(request, None), None)


@OWNERS
@require_POST
def preview(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """What would follow from the plan as it is typed just now. Nothing is kept."""
    project = get_object_or_404(Project.objects.with_shades(), pk=pk) if pk else None
    form = plan_form(request, project, request.POST)
    found = _typed_outputs(request, project, form)
    waiting = [] if found else _waiting(form)
    context = {"project": project, "form": form, "out": found, "waiting": waiting, "unsaved": True}
    context |= {"gear": gear_part(project, form, found), "may_plan": True}
    context["advice"] = advice_part(project, form, found)
    return render(request, "projects/_preview.html", context)


@OWNERS
def shade_names(request: HttpRequest) -> HttpResponse:
    """Options for a field in which a shade's name is being typed: the first that fit."""
    typed = next((value for name, value in request.GET.items() if name.startswith(shade_field(""))), "")
    found = Shade.objects.live().matching(typed.replace(",", " ")[:80]).select_related("yarn")
    context = {"shade_options": found.order_by("name", "yarn__name")[:SHADES_OFFERED]}
    return render(request, "projects/_shade_options.html", context)


def _posted(request: HttpRequest, project: Project | None) -> HttpResponse:
    form = plan_form(request, project, request.POST)
    then = request.POST.get("then", "")
    if then == "waste":
        form = _with_looms_waste(request, project, form)
    if then in ("look", "waste"):
        return _page(request, project, form, _typed_outputs(request, project, form), unsaved=True)
    if not form.is_valid():
        return _page(request, project, form, _typed_outputs(request, project, form), unsaved=True, status=422)
    clashes: list[Clash] = []
    try:
        saved = save_project(
            facts=form.facts(),
            pk=project.pk if project else None,
            version=form.cleaned_data["version"] if project else None,
        )
    except ChangedMeanwhile as error:
        form, clashes = _after_clash(request, error)
        form.refuse(error)
    except (Refusal, CalcError, ValidationError) as error:
        form.refuse(error)
    else:
        for sentence in (
            fallen(project.shades.all(), {shade.pk for shade in form.shades.values()}) if project else ()
        ):
            messages.warning(request, sentence)
        if then == "reserve":
            reserve_and_say(request, saved, saved.version)
        return redirect("project-page", saved.pk)
    found = _typed_outputs(request, project, form)
    return _page(request, project, form, found, unsaved=True, clashes=clashes, status=422)


def _with_looms_waste(request: HttpRequest, project: Project | None, form: PlanForm) -> PlanForm:
    """The same text, with what the chosen loom loses instead of the waste that was typed. Nothing is kept yet."""
    part = gear_part(project, form, _typed_outputs(request, project, form))
    if part is None or part.waste_um is None:
        return form
    data = request.POST.copy()
    data["waste"] = form.measures.field_short_length(part.waste_um)
    return plan_form(request, project, data)


def plan_form(
    request: HttpRequest, project: Project | None, data: Mapping[str, Any] | None = None
) -> PlanForm:
    used = [row.key for row in project.shades.all()] if project else []
    measures = measures_of(request.studio)
    return PlanForm(
        data,
        measures=measures,
        keys=keys_for([*used, *(typed_keys(data) if data else ())]),
        known={row.shade_id: row.shade for row in project.shades.all()} if project else {},
        shed=read_shed(project),
        initial=initial_of(project, measures) if project else initial_of_new(measures),
    )


def _typed_outputs(request: HttpRequest, project: Project | None, form: PlanForm) -> Outputs | None:
    """Outputs of a form that can be worked out, even if a name or a shade is still missing."""
    form.is_valid()
    if form.worked is None or form.weave is None:
        return None
    return outputs(
        worked=form.worked,
        shades=form.shades,
        weave=form.weave,
        piece_name=form.cleaned_data.get("piece_name") or "pieces",
        project=project,
        measures=form.measures,
    )


def _wishes(project: Project | None, found: Outputs | None, measures: Measures) -> WishesForm | None:
    if project is None or found is None or not found.judged.lines:
        return None
    return WishesForm(measures=measures, rows=project.shades.all(), found=found, version=project.version)


def _ways(project: Project, found: Outputs) -> bool:
    """Is there a way out to be shown: wanted, or being tried?"""
    return project.has_trials or wants_a_way(project, found.judged)


def _waiting(form: PlanForm) -> list[tuple[str, str]]:
    """What keeps the plan from being worked out: label and error of each such field."""
    return [
        (form.fields[name].label or name, errors[0])
        for name, errors in form.errors.items()
        if name in form.fields
    ]


def _after_clash(request: HttpRequest, error: ChangedMeanwhile) -> tuple[PlanForm, list[Clash]]:
    """The typed text on top of the version that stands there now, and where the two differ."""
    current = Project.objects.with_shades().get(pk=error.current.pk)
    data = request.POST.copy()
    data["version"] = str(current.version)
    form = plan_form(request, current, data)
    form.is_valid()
    there = initial_of(current, form.measures)
    clashes = []
    for name, field in form.fields.items():
        if name in ("version", "sett_k"):  # K is only reckoned with, never kept
            continue
        theirs = field.prepare_value(there.get(name))
        theirs = "" if theirs is None else str(theirs)
        yours = data.get(name, "")
        if yours.strip() != theirs.strip():
            words = dict(getattr(field, "choices", ()))
            clashes.append(Clash(_label(form, name), words.get(yours, yours), words.get(theirs, theirs)))
    return form, clashes


def _label(form: PlanForm, name: str) -> str:
    return f"Shade {form.fields[name].label}" if name.startswith(shade_field("")) else form.fields[name].label


def _page(
    request: HttpRequest,
    project: Project | None,
    form: PlanForm,
    found: Outputs | None,
    *,
    unsaved: bool = False,
    clashes: list[Clash] | None = None,
    status: int = 200,
) -> HttpResponse:
    holding = holding_of(project) if project else None
    may_plan = request.user.may_change and not (project and project.closed_at)
    context = {
        "section": "projects",
        "project": project,
        "form": form,
        "out": found,
        "waiting": [],
        "unsaved": unsaved,
        "clashes": clashes or [],
        "holding": holding,
        "holding_fits": bool(found and holding and not unsaved and holding.fits(found.judged)),
        "ways": bool(project and found and not unsaved and not project.closed_at and _ways(project, found)),
        "used": used_of(project) if project and not unsaved else (),
        "bench": bench_of(project, work_out(project.plan), form.measures)
        if project and not unsaved
        else None,
        "grist_moved": [row for row in project.shades.all() if row.grist_moved] if project else [],
        "wishes": _wishes(project, found, form.measures) if may_plan and not unsaved else None,
        "out_of_reach": list(filter(None, map(out_of_reach, project.shades.all()))) if project else [],
        "may_plan": may_plan,
        "fair_part": fair_part(project, may_plan=may_plan),
        "gear": gear_part(project, form, found),
        "advice": advice_part(project, form, found),
        "facts": plan_facts(project, form.measures) if project and not may_plan else [],
    }
    context |= record_of(project, request.user, holding)
    return render(request, "projects/project_page.html", context, status=status)
