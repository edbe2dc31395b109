"""What the demo's projects have come through: steps and notes with their days, as the projects file lists them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, Protocol

from django.utils import timezone

from projects.models import Project, ProjectNote, Stage
from stash.models import Person

MOST_DAYS = 2_000


class Entry(Protocol):
    """An entry of the demo's files, as far as it is read here."""

    def entries(self, key: str) -> Any: ...


@dataclass(frozen=True, slots=True)
class DemoNote:
    """A step, or a note in words. `in_days` are days from the day of loading, below 0."""

    in_days: int
    stage: str
    text: str


def notes_of(entry: Entry) -> tuple[DemoNote, ...]:
    """The tables under `record`: each with `in_days`, and a `step` or a `text`. Raises DemoFileError."""
    found = []
    for one in entry.entries("record"):
        note = DemoNote(one.whole("in_days", -MOST_DAYS, 0), one.text("step", ""), one.text("text", ""))
        if bool(note.stage) == bool(note.text):
            raise one.error("give a step or a text, one of the two.")
        if note.stage and note.stage not in Stage.values:
            raise one.error(f"give one of {', '.join(Stage.values)}.", "step")
        one.finish()
        found.append(note)
    return tuple(found)


def keep_record(project: Project, notes: Sequence[DemoNote], today: date, by: Person) -> None:
    """Write them once, with the days that they had; the last step is where the project stands."""
    if not notes or project.notes.exists():
        return
    for note in notes:
        at = timezone.make_aware(datetime.combine(today + timedelta(days=note.in_days), time(16)))
        label = Stage(note.stage).label if note.stage else ""
        text = note.text or f"{label[0].upper()}{label[1:]}."
        ProjectNote.objects.create(project=project, text=text, by=by, made_at=at, stage=note.stage)
        if note.stage:
            project.stage = note.stage
    project.save(update_fields=["stage"])
