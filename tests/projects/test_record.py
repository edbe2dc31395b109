"""Notes and photos of a project: kept with their day, taken away by whoever may."""

from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from projects.models import ProjectNote, ProjectPhoto, Stage
from projects.services import recording
from projects.services.stages import set_stage
from stash.services.photos import photos_folder
from stash.services.refusal import Refusal
from tests.factories import a_photo, make_project

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.DATA = tmp_path
    return tmp_path / "media" / "photos"


@pytest.fixture
def project(studio):
    return make_project("Lantern mats")


def files(folder):
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def sent(content):
    return {"file": SimpleUploadedFile("photo.jpg", content, content_type="image/jpeg")}


def at(name, *args):
    return reverse(name, args=args)


# Notes


def test_a_note_is_kept_with_its_day_and_writer_and_shown_newest_first(as_helper, project, helper):
    for text in ("Beat is 18", "Temple one notch looser\nafter the third repeat"):
        assert as_helper.post(at("project-note", project.pk), {"text": text}).status_code == 302
    notes = list(project.notes.all())
    assert [note.by for note in notes] == [helper, helper]
    page = as_helper.get(at("project-page", project.pk)).content.decode()
    assert page.index("Temple one notch looser<br>after") < page.index("Beat is 18")
    assert "Jon" in page


@pytest.mark.parametrize("text", ["", "   ", "x" * 2001, "nul\x00"])
def test_a_note_that_says_nothing_or_too_much_is_refused_and_kept_in_the_field(as_helper, project, text):
    answer = as_helper.post(at("project-note", project.pk), {"text": text})
    assert answer.status_code == 422 and "text" in answer.context["form"].errors
    assert not ProjectNote.objects.exists()


def test_hostile_text_is_shown_as_text(as_helper, project):
    as_helper.post(at("project-note", project.pk), {"text": "<script>alert(1)</script>"})
    page = as_helper.get(at("project-page", project.pk)).content.decode()
    assert "<script>alert(1)" not in page and "&lt;script&gt;" in page


def test_whoever_wrote_a_note_takes_it_away_and_nobody_else(as_helper, project, helper, owner):
    own = recording.add_note(project_id=project.pk, text="mine", by=helper)
    other = recording.add_note(project_id=project.pk, text="not mine", by=owner)
    page = as_helper.get(at("project-page", project.pk)).content.decode()
    assert at("project-note-remove", project.pk, own.pk) in page
    assert at("project-note-remove", project.pk, other.pk) not in page
    answer = as_helper.post(at("project-note-remove", project.pk, other.pk), follow=True)
    assert "Only whoever wrote a note takes it away." in answer.content.decode()
    as_helper.post(at("project-note-remove", project.pk, own.pk))
    as_helper.post(at("project-note-remove", project.pk, own.pk))  # gone already
    assert list(ProjectNote.objects.all()) == [other]


def test_the_line_of_a_step_is_history(project, owner):
    set_stage(pk=project.pk, stage=Stage.WOUND, by=owner)
    note = ProjectNote.objects.get()
    with pytest.raises(Refusal, match="it stays"):
        recording.remove_note(project_id=project.pk, pk=note.pk, by=owner)
    assert not recording.may_remove(note, owner)


def test_a_note_of_another_project_is_not_touched(project, owner):
    note = recording.add_note(project_id=make_project("Other").pk, text="theirs", by=owner)
    recording.remove_note(project_id=project.pk, pk=note.pk, by=owner)
    assert ProjectNote.objects.exists()


def test_a_visitor_reads_the_record_and_writes_nothing(as_viewer, project, owner):
    recording.add_note(project_id=project.pk, text="Beat is 18", by=owner)
    page = as_viewer.get(at("project-page", project.pk)).content.decode()
    assert "Beat is 18" in page and at("project-note", project.pk) not in page
    assert as_viewer.post(at("project-note", project.pk), {"text": "x"}).status_code == 403


def test_a_note_for_no_project_is_refused(owner, studio):
    with pytest.raises(Refusal, match="no such project"):
        recording.add_note(project_id=0, text="x", by=owner)


# Photos


def test_photos_are_drawn_anew_kept_shown_and_served(as_helper, project, folder):
    exif = Image.Exif()
    exif[0x010F] = "Invented camera"
    for _ in range(2):
        assert (
            as_helper.post(at("project-photo-add", project.pk), sent(a_photo(80, 60, exif=exif))).status_code
            == 302
        )
    photos = list(ProjectPhoto.objects.all())
    assert files(folder) == sorted(photo.file for photo in photos) and len(photos) == 2
    address = at("project-photo", project.pk, photos[0].pk)
    page = as_helper.get(at("project-page", project.pk)).content.decode()
    assert f'src="{address}?v={photos[0].mark}" width="80" height="60" alt="Photo 1 of Lantern mats' in page
    answer = as_helper.get(address)
    assert Image.open(BytesIO(answer.content)).size == (80, 60)
    assert b"Invented camera" not in answer.content
    assert answer["X-Content-Type-Options"] == "nosniff" and "private" in answer["Cache-Control"]


@pytest.mark.parametrize("content", [b"moonlight", b"<svg onload='alert(1)'/>", a_photo(400, 300)[:400]])
def test_what_is_no_photo_is_refused_and_leaves_no_file(as_helper, project, folder, content):
    answer = as_helper.post(at("project-photo-add", project.pk), sent(content))
    assert answer.status_code == 422 and "Send a JPEG, PNG or WebP file" in answer.content.decode()
    assert files(folder) == [] and not ProjectPhoto.objects.exists()


def test_no_file_at_all_is_refused(as_helper, project):
    answer = as_helper.post(at("project-photo-add", project.pk), {})
    assert answer.status_code == 422 and "Choose a photo." in answer.content.decode()


def test_a_file_too_large_is_refused(as_helper, project):
    answer = as_helper.post(at("project-photo-add", project.pk), sent(b"x" * 10_000_001))
    assert answer.status_code == 422 and "larger than 10 MB" in answer.content.decode()


def test_there_is_an_end_to_photos(project, monkeypatch, folder):
    monkeypatch.setattr(recording, "MOST_PHOTOS", 1)
    recording.add_photo(project_id=project.pk, sent=a_photo())
    with pytest.raises(Refusal, match="at most 1 photos"):
        recording.add_photo(project_id=project.pk, sent=a_photo())
    assert len(files(folder)) == 1


@pytest.mark.django_db(transaction=True)
def test_a_removed_photo_takes_its_file_along(as_helper, project, folder):
    photo = recording.add_photo(project_id=project.pk, sent=a_photo())
    for _ in range(2):
        assert as_helper.post(at("project-photo-remove", project.pk, photo.pk)).status_code == 302
    assert files(folder) == [] and not ProjectPhoto.objects.exists()


def test_a_photo_belongs_to_its_project(as_viewer, project):
    photo = recording.add_photo(project_id=project.pk, sent=a_photo())
    other = make_project("Other")
    assert as_viewer.get(at("project-photo", other.pk, photo.pk)).status_code == 404
    assert as_viewer.get(at("project-photo", 10**30, photo.pk)).status_code == 404
    assert as_viewer.get(at("project-photo", project.pk, 10**30)).status_code == 404


@pytest.mark.parametrize("name", ["../../studio.sqlite3", "/etc/hostname", "gone.jpg", ".."])
def test_a_name_that_leads_elsewhere_is_not_found(as_viewer, project, name):
    photo = recording.add_photo(project_id=project.pk, sent=a_photo())
    ProjectPhoto.objects.update(file=name)
    assert as_viewer.get(at("project-photo", project.pk, photo.pk)).status_code == 404


def test_projects_and_cones_keep_their_photos_in_one_folder(project):
    photo = recording.add_photo(project_id=project.pk, sent=a_photo())
    assert (photos_folder() / photo.file).is_file()


def test_twice_the_record_costs_no_more_queries(as_owner, project, owner):
    counts = []
    for _ in range(2):
        recording.add_note(project_id=project.pk, text="more", by=owner)
        recording.add_photo(project_id=project.pk, sent=a_photo())
        with CaptureQueriesContext(connection) as caught:
            as_owner.get(at("project-page", project.pk))
        counts.append(len(caught))
    assert counts[0] == counts[1]
