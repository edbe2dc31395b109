"""A trial beside the plan that it is a trial of: what differs, and the choice between the two."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from projects.judging import ShadeLine
from projects.models import Project
from projects.outputs import Outputs, pictured_outputs
from projects.services.trials import drop_trial, keep_both, keep_instead
from projects.views.plain import plan_facts
from projects.wish_words import fallen
from projects.wording import flag
from stash.access import OWNERS_CHANGE
from stash.calc.errors import CalcError
from stash.calc.writing import Measures
from stash.measuring import measures_of
from stash.models import Shade
from stash.services.refusal import Refusal
from stash.views.answers import key_in


@dataclass(frozen=True, slots=True)
class Pair:
    """A figure of both plans."""

    label: str
    first: str
    trial: str

    @property
    def differs(self) -> bool:
        return self.first != self.trial


@dataclass(frozen=True, slots=True)
class Wanted:
    """What one plan needs of a shade: the length and what comes of it. Nothing where it does not use the shade."""

    need: str
    free: str
    flag_class: str
    flag_text: str


@dataclass(frozen=True, slots=True)
class ShadePair:
    shade: Shade
    first: Wanted | None
    trial: Wanted | None


@OWNERS_CHANGE
def project_beside(request: HttpRequest, pk: int) -> HttpResponse:
    trial = get_object_or_404(Project.objects.with_shades().select_related("trial_of"), pk=pk)
    if trial.trial_of is None:
        return redirect("project-page", pk)
    if request.method == "POST":
        return _decide(request, trial)
    first = Project.objects.with_shades().get(pk=trial.trial_of_id)
    measures = measures_of(request.studio)
    outs = (pictured_outputs(first, measures), pictured_outputs(trial, measures))
    context = {
        "section": "projects",
        "first": first,
        "trial": trial,
        "first_out": outs[0],
        "trial_out": outs[1],
        "sides": [("The plan as it stands", first, outs[0]), ("The plan that is tried", trial, outs[1])],
        "facts": [pair for pair in _facts(first, trial, measures) if pair.differs],
        "figures": _figures(*outs),
        "needs": _needs(*outs, measures),
        "may_decide": request.user.may_change and not first.closed_at,
    }
    return render(request, "projects/project_beside.html", context)


def _decide(request: HttpRequest, trial: Project) -> HttpResponse:
    first = trial.trial_of
    choice = request.POST.get("choice", "")
    version = request.POST.get("version", "")
    try:
        if choice == "instead":
            shade_ids = {row.shade_id for row in trial.shades.all()}
            gone = fallen(list(first.shades.select_related("shade", "wish_lot", "wish_cone")), shade_ids)
            kept = keep_instead(pk=trial.pk, version=key_in(version) if version else None)
            for sentence in gone:
                messages.warning(request, sentence)
            messages.success(request, f"{kept.name} has the plan that was tried. What it holds is as it was.")
        elif choice == "both":
            kept = keep_both(pk=trial.pk)
            messages.success(request, f"{kept.name} is a project of its own now, beside {first.name}.")
        elif choice == "drop":
            kept = drop_trial(pk=trial.pk)
            messages.success(request, f"{trial.name} is dropped. The plan stands as it was.")
        else:
            raise Refusal("Choose what becomes of the trial: keep it instead, keep both, or drop it.")
    except (Refusal, CalcError) as error:
        messages.error(request, error.message)
        return redirect("project-beside", trial.pk)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("project-beside", trial.pk)
    return redirect("project-page", kept.pk)


def _facts(first: Project, trial: Project, measures: Measures) -> list[Pair]:
    """What a person decided, in the order of the sheet; nothing stands where a plan does not have it."""
    return _paired(
        [*plan_facts(first, measures), *_more_facts(first)],
        [*plan_facts(trial, measures), *_more_facts(trial)],
    )


def _more_facts(project: Project) -> list[tuple[str, str]]:
    shades = [
        (f"Shade {row.key}", f"{row.shade.name}, {row.shade.yarn.name}") for row in project.shades.all()
    ]
    loom = [("Loom", project.loom.name)] if project.loom else []
    return [*shades, *loom, ("Dressing", project.get_dressing_display())]


def _figures(first: Outputs, trial: Outputs) -> list[Pair]:
    return _paired(
        [(figure.name, figure.value) for figure in first.figures],
        [(figure.name, figure.value) for figure in trial.figures],
    )


def _paired(first: Sequence[tuple[str, str]], trial: Sequence[tuple[str, str]]) -> list[Pair]:
    ours, theirs = dict(first), dict(trial)
    return [
        Pair(label, ours.get(label, "–"), theirs.get(label, "–")) for label in dict.fromkeys([*ours, *theirs])
    ]


def _needs(first: Outputs, trial: Outputs, measures: Measures) -> list[ShadePair]:
    """By shade, not by key: a key may stand for another shade in the plan that is tried."""
    ours = {line.shade.pk: line for line in first.judged.lines if line.needs_anything}
    theirs = {line.shade.pk: line for line in trial.judged.lines if line.needs_anything}
    return [
        ShadePair(
            (ours.get(pk) or theirs[pk]).shade,
            _wanted(ours[pk], measures) if pk in ours else None,
            _wanted(theirs[pk], measures) if pk in theirs else None,
        )
        for pk in dict.fromkeys([*ours, *theirs])
    ]


def _wanted(line: ShadeLine, measures: Measures) -> Wanted:
    flag_class, flag_text = flag(line, measures)
    return Wanted(
        measures.long_length(line.need_um, "up"),
        measures.long_length(line.verdict.free_um, "down"),
        flag_class,
        flag_text,
    )
