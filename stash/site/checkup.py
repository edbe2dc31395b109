"""The whole check of the studio: its books, its photos' files, and what is odd without being wrong."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from django.db.models import Count, Sum

from projects.models import Project, ProjectPhoto
from stash.archive.form import PHOTO_NAME
from stash.models import Claim, Photo
from stash.services.books import Fault, check_books
from stash.site.folders import photos_folder

SHOWN = 20


@dataclass(frozen=True, slots=True)
class Checkup:
    """`notes` are said and are no faults."""

    faults: list[Fault] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def check_all() -> Checkup:
    return Checkup([*check_books(), *_photo_faults(), *_project_faults()], _notes())


def _photo_faults() -> list[Fault]:
    """Rows without a file, and files without a row."""
    folder = photos_folder()
    there = {path.name for path in folder.iterdir() if path.is_file()} if folder.is_dir() else set()
    faults, named = [], set()
    for file, of in _photos():
        named.add(file)
        if not PHOTO_NAME.match(file):
            faults.append(Fault(f"The photo of {of} is kept under {file!r}, which is no plain file name."))
        elif file not in there:
            faults.append(Fault(f"The photo of {of} has no file: {folder / file} is missing."))
    strange = sorted(there - named)
    faults += [Fault(f"The file {folder / name} is the photo of nothing.") for name in strange[:SHOWN]]
    if len(strange) > SHOWN:
        faults.append(Fault(f"And {len(strange) - SHOWN} more files there are photos of nothing."))
    return faults


def _photos() -> Iterator[tuple[str, str]]:
    """The file of each photo, and what it shows."""
    for photo in Photo.objects.select_related("cone", "shade").order_by("pk"):
        yield photo.file, f"cone {photo.cone.code}" if photo.cone else f"the shade {photo.shade}"
    for photo in ProjectPhoto.objects.select_related("project").order_by("pk"):
        yield photo.file, f"the project {photo.project}"


def _project_faults() -> list[Fault]:
    """A project that is put away holds nothing."""
    closed = Project.objects.exclude(closed_at=None).annotate(lines=Count("claim__reservations"))
    return [
        Fault(f"{project.name} is put away, but {project.lines} reservations are still held for it.")
        for project in closed.filter(lines__gt=0).order_by("pk")
    ]


def _notes() -> list[str]:
    """What no project stands behind may be right, and is worth knowing."""
    loose = (
        Claim.objects.filter(project=None)
        .annotate(held_mg=Sum("reservations__mass_mg"))
        .exclude(held_mg=None)
        .order_by("pk")
    )
    return [f"{claim.held_mg} mg are reserved for {claim.name}, which is no project." for claim in loose]
