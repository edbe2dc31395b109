"""What is kept of a project as it goes on: dated notes by whoever wrote them, and photos."""

from pathlib import Path

from django.db import transaction
from django.utils import timezone

from projects.models import Project, ProjectNote, ProjectPhoto
from stash.models import Person, Role
from stash.services.photos import drawn_file, let_go
from stash.services.refusal import Refusal

MOST_PHOTOS = 60


@transaction.atomic
def add_note(*, project_id: int, text: str, by: Person) -> ProjectNote:
    """Raises Refusal or ValidationError."""
    _lock(project_id)
    note = ProjectNote(project_id=project_id, text=text.strip(), by=by, made_at=timezone.now())
    note.full_clean()
    note.save()
    return note


@transaction.atomic
def remove_note(*, project_id: int, pk: int, by: Person) -> None:
    """Whoever wrote a note may take it away. Gone already: nothing happens. Raises Refusal.

    A note that a step wrote is the project's history and stays.
    """
    note = ProjectNote.objects.filter(project_id=project_id, pk=pk).first()
    if note is None:
        return
    if note.stage:
        raise Refusal("This line says when the project came to a step; it stays.")
    if note.by_id != by.pk:
        raise Refusal("Only whoever wrote a note takes it away.")
    note.delete()


def add_photo(*, project_id: int, sent: bytes) -> ProjectPhoto:
    """One more photo of the project. Raises Refusal."""
    with drawn_file(sent) as (name, width, height), transaction.atomic():
        _lock(project_id)
        if ProjectPhoto.objects.filter(project_id=project_id).count() >= MOST_PHOTOS:
            raise Refusal(f"A project keeps at most {MOST_PHOTOS} photos. Remove one first.", field="file")
        photo = ProjectPhoto(
            project_id=project_id, file=Path(name).name, width=width, height=height, made_at=timezone.now()
        )
        photo.full_clean()
        photo.save()
    return photo


@transaction.atomic
def remove_photo(*, project_id: int, pk: int) -> None:
    """Gone already: nothing happens."""
    let_go(list(ProjectPhoto.objects.filter(project_id=project_id, pk=pk)))


def may_remove(note: ProjectNote, person: Person) -> bool:
    return not note.stage and note.by_id == person.pk and Role(person.role).reaches(Role.HELPER)


def _lock(project_id: int) -> Project:
    project = Project.objects.select_for_update(of=("self",), no_key=True).filter(pk=project_id).first()
    if project is None:
        raise Refusal("There is no such project any more.")
    return project
