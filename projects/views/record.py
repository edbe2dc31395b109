"""What is kept of a project as it goes on: notes and photos."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from projects.forms.record import NoteForm
from projects.holding import Holding
from projects.models import Project
from projects.services import recording
from projects.steps import steps_of
from stash.access import HELPERS_ONLY, VIEWERS
from stash.forms.photos import PhotoForm
from stash.models import Person
from stash.services.photos import MOST_BYTES, too_large
from stash.services.refusal import Refusal
from stash.views.answers import page, posted
from stash.views.photos import picture

MOST_SHOWN = 200


def record_of(project: Project | None, person: Person, holding: Holding | None) -> dict[str, Any]:
    """The parts of a project's page that follow from how far it has come: steps, notes, photos. Two queries, and
    one for the loom of a project that has one."""
    if project is None or holding is None:
        return {}
    notes = list(project.notes.select_related("by")[: MOST_SHOWN + 1])
    return {
        "steps": steps_of(project, notes, holding) if not project.trial_of_id else None,
        "notes": [(note, recording.may_remove(note, person)) for note in notes[:MOST_SHOWN]],
        "more_notes": len(notes) > MOST_SHOWN,
        "photos": list(project.photos.all()),
        "note_form": NoteForm(),
    }


@HELPERS_ONLY
def project_note(request: HttpRequest, pk: int) -> HttpResponse:
    """A page of its own for a note that was refused, and for whoever comes without the project's page."""
    project = get_object_or_404(Project, pk=pk)
    form = NoteForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            recording.add_note(project_id=pk, text=form.cleaned_data["text"], by=request.user)
        except (Refusal, ValidationError) as error:
            form.refuse(error)
        else:
            return redirect(f"{project_address(pk)}#record")
    return page(request, "projects/project_note.html", {"section": "projects", "project": project}, form)


@HELPERS_ONLY
@require_POST
def project_note_remove(request: HttpRequest, pk: int, note_pk: int) -> HttpResponse:
    get_object_or_404(Project, pk=pk)
    try:
        recording.remove_note(project_id=pk, pk=note_pk, by=request.user)
    except Refusal as error:
        messages.error(request, error.message)
    else:
        messages.success(request, "The note is gone.")
    return redirect(f"{project_address(pk)}#record")


@HELPERS_ONLY
def project_photo_add(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project, pk=pk)
    form = PhotoForm(posted(request), request.FILES if request.method == "POST" else None)
    if request.method == "POST":
        try:
            if getattr(request, "upload_too_large", False):
                raise too_large()
            if form.is_valid():
                recording.add_photo(project_id=pk, sent=form.cleaned_data["file"].read(MOST_BYTES + 1))
                messages.success(request, f"{project.name} has one photo more.")
                return redirect(f"{project_address(pk)}#record")
        except (Refusal, ValidationError) as error:
            form.errors.clear()
            form.refuse(error)
    return page(request, "projects/project_photo.html", {"section": "projects", "project": project}, form)


project_photo_add.most_upload = MOST_BYTES  # type: ignore[attr-defined]


@VIEWERS
@require_safe
def project_photo(request: HttpRequest, pk: int, project_photo_pk: int) -> HttpResponse:
    # The project by its own key: a number that no database holds finds nothing there, and is an error elsewhere.
    project = get_object_or_404(Project, pk=pk)
    found = get_object_or_404(project.photos, pk=project_photo_pk)
    return picture(request, found.file, found.mark)


@HELPERS_ONLY
@require_POST
def project_photo_remove(request: HttpRequest, pk: int, project_photo_pk: int) -> HttpResponse:
    get_object_or_404(Project, pk=pk)
    recording.remove_photo(project_id=pk, pk=project_photo_pk)
    messages.success(request, "The photo is gone.")
    return redirect(f"{project_address(pk)}#record")


def project_address(pk: int) -> str:
    return reverse("project-page", args=[pk])
