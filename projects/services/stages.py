"""Moving a project along the trade's own steps. No step changes stock: winding and weighing back do, and say the step."""

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from projects.models import Dressing, Project, ProjectNote, Stage
from stash.models import Entry, Loom, Person, Reservation
from stash.services.refusal import Refusal
from stash.services.using import Back, take_as_wound, weigh_back

STEPS = tuple(Stage)


def step_after(stage: str) -> Stage | None:
    at = STEPS.index(Stage(stage))
    return STEPS[at + 1] if at + 1 < len(STEPS) else None


@transaction.atomic
def set_stage(*, pk: int, stage: Stage, by: Person, stood: str | None = None) -> Project:
    """Put the project at a step, and note it with the day. Raises Refusal.

    `stood` is the step that the page showed: two people who press the same button move it once. A warp that goes on
    the loom ends what was left there of another one: it was tied on to, or taken off.
    """
    project = lock_live(pk)
    if stood is not None and stood != project.stage:
        raise Refusal(
            f"It stands at “{project.get_stage_display()}” already. Look at it again before moving it."
        )
    if stage == project.stage:
        raise Refusal(f"It stands at “{project.get_stage_display()}” already.")
    if stage == Stage.DONE and _holds(project):
        raise Refusal("It still holds yarn. Weigh back its cones, or release what it holds, then it is done.")
    words = _use_up_what_is_left(project) if stage == Stage.DRESSED else ""
    move(project, stage, by, words)
    return project


@transaction.atomic
def wind_warp(*, pk: int, by: Person) -> list[Entry]:
    """Turn the reserved warp into use, and a plan into a wound warp, in one step. Raises Refusal."""
    project = lock_live(pk)
    if not project.claim_id:
        raise Refusal("No warp is reserved, so there is none to mark as wound.")
    entries = take_as_wound(claim_id=project.claim_id, by=by)
    if project.stage == Stage.PLANNED:
        move(project, Stage.WOUND, by)
    return entries


@transaction.atomic
def weigh_cones_back(*, pk: int, backs: Mapping[int, Back], by: Person) -> list[Entry]:
    """Weigh back; a finished project that holds nothing any more is done with it. Raises Refusal.

    Cones of a project that was put away meanwhile may still come back.
    """
    project = _lock(pk)
    if not project.claim_id:
        raise Refusal("This project holds no yarn and took none.")
    entries = weigh_back(claim_id=project.claim_id, backs=backs, by=by)
    if project.stage == Stage.FINISHED and not project.closed_at and not _holds(project):
        move(project, Stage.DONE, by)
    return entries


def move(project: Project, stage: Stage, by: Person, words: str = "") -> None:
    """Write the step of a locked project, and the note of it, with words of its own after the step's."""
    project.stage = stage
    project.save(update_fields=["stage"])
    text = f"{stage.label[0].upper()}{stage.label[1:]}.{f' {words}' if words else ''}"
    ProjectNote.objects.create(project=project, text=text[:2000], by=by, made_at=timezone.now(), stage=stage)


def lock_live(pk: int) -> Project:
    """The project, locked, if it is one that goes on. Raises Refusal."""
    project = _lock(pk)
    if project.closed_at:
        raise Refusal("This project is put away. Take it out again first.")
    if project.trial_of_id:
        raise Refusal("This plan is being tried: only the one that is kept is wound and woven.")
    return project


def lock_loom(loom_id: int) -> Loom:
    """Raises Refusal."""
    loom = Loom.objects.live().select_for_update(of=("self",), no_key=True).filter(pk=loom_id).first()
    if loom is None:
        raise Refusal("There is no such loom any more. Choose another.", field="loom")
    return loom


def _lock(pk: int) -> Project:
    project = Project.objects.select_for_update(of=("self",), no_key=True).filter(pk=pk).first()
    if project is None:
        raise Refusal("There is no such project any more.")
    return project


def _holds(project: Project) -> bool:
    return bool(project.claim_id) and Reservation.objects.filter(claim_id=project.claim_id).exists()


def _use_up_what_is_left(project: Project) -> str:
    """The rest of an old warp is off its loom once another stands there; the words say what it was."""
    if not project.loom_id:
        return ""
    loom = Loom.objects.select_for_update(of=("self",), no_key=True).get(pk=project.loom_id)
    if not loom.left_um:
        return ""
    what = f" of {loom.left_of}" if loom.left_of else ""
    done = "tied on to" if project.dressing == Dressing.TIED_ON else "taken off"
    words = f"The {loom.left_ends} ends{what} that were left on {loom.name} were {done}."
    loom.left_um, loom.left_ends, loom.left_of = 0, 0, ""
    loom.version += 1
    loom.save(update_fields=["left_um", "left_ends", "left_of", "version"])
    return words
