"""Fairs, and which projects must be ready for them."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from projects.models import Fair, Project
from stash.calc.errors import CalcError
from stash.calc.fair_days import FairDays
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
from stash.services.versions import lock_version

FIRST_YEAR = 1980
YEARS_AHEAD = 10
LONGEST_DAYS = 60


@dataclass(frozen=True, slots=True)
class FairFacts:
    """All that a person says of a fair. Without `ends_on` it is one day."""

    name: str
    begins_on: date
    ends_on: date | None = None
    place: str = ""
    clear_days: int = 7
    note: str = ""


@transaction.atomic
def save_fair(*, facts: FairFacts, pk: int | None = None, version: int | None = None) -> Fair:
    """Note a fair, or correct the one of that key. Raises Refusal, ChangedMeanwhile or ValidationError, each naming the
    field."""
    _check_days(facts)
    fair = lock_version(Fair.objects.all(), pk, version, "This fair") if pk else Fair(made_at=timezone.now())
    fair.name, fair.place, fair.note = facts.name.strip(), facts.place.strip(), facts.note.strip()
    fair.begins_on = facts.begins_on
    fair.ends_on = facts.ends_on if facts.ends_on != facts.begins_on else None
    fair.clear_days = facts.clear_days
    twin = Fair.objects.filter(name__iexact=fair.name, begins_on=fair.begins_on).exclude(pk=fair.pk)
    if twin.exists():
        raise Refusal("A fair of this name begins on the same day already.", field="name")
    save_checked(fair)
    return fair


@transaction.atomic
def remove_fair(*, pk: int) -> str:
    """Take a fair out of the books, and give its name. Its projects stay and lose the link. Raises Refusal."""
    fair = _lock(pk)
    fair.delete()
    return fair.name


@transaction.atomic
def choose_projects(
    *, pk: int, chosen: Collection[int], offered: Collection[int], was: Collection[int] = ()
) -> tuple[int, int]:
    """Make these the open projects of the fair, of those that were offered: others stay as they are. `was` are those
    that were chosen when they were offered: one of which nothing else is said now stays as it is too, so that nobody
    undoes unseen what somebody else chose meanwhile. One that was meant for another fair is meant for this one now.
    Gives how many came and how many went. Raises Refusal."""
    fair = _lock(pk)
    rows = Project.objects.open().filter(pk__in=offered).order_by("pk").select_for_update(no_key=True)
    came = went = 0
    for project in rows.only("pk", "fair_id"):
        wanted = project.pk in chosen
        if wanted == (project.pk in was) or wanted == (project.fair_id == fair.pk):
            continue
        came, went = came + wanted, went + (not wanted)
        Project.objects.filter(pk=project.pk).update(fair=fair if wanted else None)
    return came, went


@transaction.atomic
def set_fair(*, project_id: int, fair_id: int | None) -> Project:
    """Say for which fair a project must be ready, or for none. Raises Refusal."""
    fair = _lock(fair_id, field="fair") if fair_id is not None else None
    project = Project.objects.select_for_update(of=("self",), no_key=True).filter(pk=project_id).first()
    if project is None:
        raise Refusal("There is no such project any more.")
    if project.trial_of_id:
        raise Refusal("This plan is being tried: only the one that is kept goes to a fair.")
    if project.closed_at:
        raise Refusal("This project is put away. Take it out again first.")
    project.fair = fair
    project.save(update_fields=["fair"])
    return project


def _lock(pk: int, field: str = "") -> Fair:
    fair = Fair.objects.select_for_update(of=("self",), no_key=True).filter(pk=pk).first()
    if fair is None:
        raise Refusal("There is no such fair any more.", field=field)
    return fair


def _check_days(facts: FairFacts) -> None:
    """A day that is far off is a slip of the pen: 2072 for 2027."""
    try:
        FairDays(facts.begins_on, facts.ends_on or facts.begins_on, facts.clear_days)
    except CalcError as error:
        raise Refusal(error.message, field=error.field or "") from error
    this_year = timezone.localdate().year
    if facts.begins_on.year < FIRST_YEAR:
        raise Refusal(f"That is before {FIRST_YEAR}. Check the year.", field="begins_on")
    if facts.begins_on.year > this_year + YEARS_AHEAD:
        raise Refusal(f"That is more than {YEARS_AHEAD} years ahead. Check the year.", field="begins_on")
    if facts.ends_on and (facts.ends_on - facts.begins_on).days >= LONGEST_DAYS:
        raise Refusal(f"A fair lasts at most {LONGEST_DAYS} days. Check both days.", field="ends_on")
