"""The line of steps of a project, as its page draws it, and the one button that leads on."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse

from projects.holding import Holding
from projects.models import Project, ProjectNote, Stage
from projects.services.stages import STEPS, step_after

# What the button says that leads to a step: the deed, not the word for having done it.
_DEEDS = {
    Stage.WOUND: "The warp is wound",
    Stage.DRESSED: "It is on the loom",
    Stage.WEAVING: "Weaving has begun",
    Stage.CUT_OFF: "Cut it off",
    Stage.FINISHED: "It is wet-finished and hemmed",
    Stage.DONE: "It is done",
}


@dataclass(frozen=True, slots=True)
class Step:
    stage: Stage
    state: str
    """past, now or ahead."""
    day: datetime | None
    """When the project last came to it, if it did."""


@dataclass(frozen=True, slots=True)
class Onward:
    """The button to the next step: a page of its own at `href`, or a post of `stage`."""

    stage: Stage
    words: str
    href: str


@dataclass(frozen=True, slots=True)
class Steps:
    line: Sequence[Step]
    onward: Onward | None
    others: Sequence[Stage]
    left: str
    """What is said of a warp that is left on the loom, before another goes on it."""


def steps_of(project: Project, notes: Iterable[ProjectNote], holding: Holding) -> Steps:
    """From the newest note on, as the project's page has them."""
    days: dict[str, datetime] = {}
    for note in notes:
        if note.stage:
            days.setdefault(note.stage, note.made_at)
    at = STEPS.index(Stage(project.stage))
    line = [
        Step(
            stage,
            "past" if number < at else "now" if number == at else "ahead",
            days.get(stage) if number <= at else None,
        )
        for number, stage in enumerate(STEPS)
    ]
    onward = _onward(project, holding)
    others = [stage for stage in STEPS if stage != project.stage]
    return Steps(line, onward, others, _left(project, onward))


def _onward(project: Project, holding: Holding) -> Onward | None:
    stage = step_after(project.stage)
    if stage is None:
        return None
    href, words = "", _DEEDS[stage]
    if stage == Stage.WOUND and holding.has_warp:
        href = reverse("project-wound", args=[project.pk])
    elif stage == Stage.CUT_OFF:
        href = reverse("project-cut-off", args=[project.pk])
    elif stage == Stage.DONE and holding.shades:
        href, words = reverse("project-weigh-back", args=[project.pk]), "Weigh back its cones"
    return Onward(stage, words, href)


def _left(project: Project, onward: Onward | None) -> str:
    if onward is None or onward.stage != Stage.DRESSED or project.loom is None or not project.loom.left_um:
        return ""
    of = f" of {project.loom.left_of}" if project.loom.left_of else ""
    return f"{project.loom.left_ends} ends{of} are left on {project.loom.name}; this step says that they are used up."
