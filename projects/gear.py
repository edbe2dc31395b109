"""The equipment of the studio and the projects that want it: who has what, from when until when."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from projects.models import Project, Stage
from stash.models import Loom, Reed

ON_LOOM = (Stage.DRESSED, Stage.WEAVING)
BEFORE_LOOM = (Stage.PLANNED, Stage.WOUND)


@dataclass(frozen=True, slots=True)
class Span:
    """A project that stands on a loom, or is to: from its winding day until it is cut off. None: not known."""

    project_id: int
    name: str
    loom_id: int | None
    reed_id: int | None
    from_on: date | None
    off_on: date | None
    on_loom: bool


def spans(but: Project | None = None) -> list[Span]:
    """Open projects that name a loom or a reed and have not been cut off, by day. One query."""
    found = Project.objects.open().filter(stage__in=[*ON_LOOM, *BEFORE_LOOM]).exclude(loom=None, reed=None)
    if but:
        found = found.exclude(pk__in=[but.pk, but.trial_of_id or but.pk])
    rows = found.by_need().values_list("pk", "name", "loom_id", "reed_id", "need_on", "off_on", "stage")
    return [
        Span(pk, name, loom_id, reed_id, need_on, off_on, stage in ON_LOOM)
        for pk, name, loom_id, reed_id, need_on, off_on, stage in rows
    ]


@dataclass(frozen=True, slots=True)
class Shed:
    """Everything that can be chosen, with what wants it. Four queries, whatever the studio."""

    looms: Mapping[int, Loom]
    reeds: Mapping[int, Reed]
    spans: Iterable[Span]


def read_shed(project: Project | None) -> Shed:
    """What is kept no more is there only where this project names it."""
    looms = {
        loom.pk: loom for loom in Loom.objects.prefetch_related("heddles") if _open(loom, project, "loom_id")
    }
    reeds = {
        reed.pk: reed for reed in Reed.objects.select_related("place") if _open(reed, project, "reed_id")
    }
    return Shed(looms, reeds, spans(project))


def _open(thing: Loom | Reed, project: Project | None, column: str) -> bool:
    return not thing.retired_at or bool(project and getattr(project, column) == thing.pk)
