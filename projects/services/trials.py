"""Trials: a way out that is tried is a plan of its own beside the first. It holds nothing and competes with nobody."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from projects.models import Project, ProjectShade, Stage
from projects.models.shade import LotWish
from projects.services.planning import put_plan
from projects.services.wishes import keep_wishes
from stash.calc.plan import Plan
from stash.models.folding import fold
from stash.services.refusal import Refusal
from stash.services.versions import lock_version

LONGEST_NAME = 120

# What a trial that is kept leaves as it stands in the first plan: who it is, whom it is for, and how far it has come.
_STAYS = {
    "id", "name", "occasion", "need_on", "rank", "note", "search", "claim", "trial_of", "version", "made_at",
    "closed_at", "stage", "ticket_done", "fair",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Change:
    """A changed plan: what it is called beside the first, the plan, its shades by key, and what else goes with it."""

    called: str
    plan: Plan
    shades: Mapping[str, int]
    fields: Mapping[str, object]
    """Columns beside the plan, such as the loom and the way of dressing."""
    any_lot: Collection[str] = ()
    """Keys whose wish for lots is let go."""


@transaction.atomic
def make_trial(*, pk: int, change: Change, version: int | None = None) -> Project:
    """A copy of the project with the change, marked as a trial of it. Raises Refusal, CalcError or ValidationError.

    A trial of a trial stands beside it, under the same project.
    """
    basis = _locked(pk)
    if basis.closed_at:
        raise Refusal("This project is put away. Take it out again before trying another plan.")
    if version is not None and basis.version != version:
        raise Refusal("The plan was changed in another window. These are the ways out of it now.")
    first = basis.trial_of or basis
    rows = list(basis.shades.all())
    trial = Project.objects.get(pk=pk)
    trial.pk, trial._state.adding = None, True
    trial.trial_of, trial.claim, trial.version, trial.made_at = first, None, 1, timezone.now()
    trial.stage, trial.ticket_done = Stage.PLANNED, 0
    trial.name = _free_name(f"{first.name}, {change.called}")
    trial.search = fold(trial.name, trial.occasion)
    for name, value in change.fields.items():
        setattr(trial, name, value)
    trial.save()
    # The rows first, so that a figure that was frozen for the first plan holds for this one too.
    for row in rows:
        row.pk, row.project, row._state.adding = None, trial, True
        if row.key in change.any_lot:
            row.wish, row.wish_lot, row.wish_cone = LotWish.ANY, None, None
    ProjectShade.objects.bulk_create(rows)
    put_plan(trial, change.plan, change.shades)
    return trial


@transaction.atomic
def keep_instead(*, pk: int, version: int | None = None) -> Project:
    """The first plan takes over what the trial changed; the trial goes. Returns the first. Raises Refusal.

    What the first holds stays as it is: its page says when that no longer is what the plan needs.
    """
    trial, first = _trial_and_first(pk)
    first = lock_version(Project.objects.all(), first.pk, None, "This project")
    if version is not None and first.version - 1 != version:
        raise Refusal("The first plan was changed in another window. Look at the two again, then decide.")
    if first.closed_at:
        raise Refusal("The project is put away. Take it out again before changing its plan.")
    for field in Project._meta.concrete_fields:
        if field.name not in _STAYS:
            setattr(first, field.attname, getattr(trial, field.attname))
    rows = list(trial.shades.all())
    plan, shades = trial.plan, {row.key: row.shade_id for row in rows}
    _let_go(trial, first)
    put_plan(first, plan, shades)
    keep_wishes(first, rows)
    return first


@transaction.atomic
def keep_both(*, pk: int) -> Project:
    """The trial becomes a project of its own. Raises Refusal."""
    trial, _ = _trial_and_first(pk)
    trial.trial_of = None
    trial.version += 1
    trial.save(update_fields=["trial_of", "version"])
    return trial


@transaction.atomic
def drop_trial(*, pk: int) -> Project:
    """The trial goes; returns the first, which stays as it is. Raises Refusal."""
    trial, first = _trial_and_first(pk)
    _let_go(trial, first)
    return first


def _locked(pk: int) -> Project:
    project = Project.objects.select_for_update(of=("self",), no_key=True).filter(pk=pk).first()
    if project is None:
        raise Refusal("There is no such project any more.")
    return project


def _trial_and_first(pk: int) -> tuple[Project, Project]:
    trial = _locked(pk)
    if trial.trial_of is None:
        raise Refusal("This is no trial any more: somebody decided on it already.")
    return trial, trial.trial_of


def _let_go(trial: Project, first: Project) -> None:
    """Delete a trial; what was noted or photographed with it is the first's."""
    trial.notes.update(project=first)
    trial.photos.update(project=first)
    trial.delete()


def _free_name(name: str) -> str:
    """The name, cut to what is kept, with a number behind it where another project has it."""
    for number in range(1, 1000):
        tail = f" ({number})" if number > 1 else ""
        tried = name[: LONGEST_NAME - len(tail)].rstrip() + tail
        if not Project.objects.filter(name=tried).exists():
            return tried
    raise Refusal("There are a thousand trials of this name. Drop some of them first.")
