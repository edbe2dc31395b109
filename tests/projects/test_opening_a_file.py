"""A plan saved to a file and opened on the page: looked at first, kept when it is said so."""

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from projects.models import Project
from projects.services.planning import Kits
from projects.sharing.form import MOST_BYTES
from projects.sharing.writing import project_file
from stash.models import Shade
from tests.factories import make_shade, make_yarn
from tests.projects.factories import make_project
from tests.projects.sharing.plans import full_plan

pytestmark = pytest.mark.django_db

OPEN = "/projects/open/"


@pytest.fixture
def text(studio):
    """The file of a project that is here no more, though its shades are."""
    shades = {"A": make_shade("Spruce"), "B": make_shade("Flax", colour="#c8b583"), "C": make_shade("Ember")}
    project = make_project(
        shades,
        name="Class sampler",
        plan=full_plan(),
        loss_way="split",
        note="Bring scissors.",
        kits=Kits(7, 1, 1),
    )
    written = project_file(project)
    project.delete()
    return written


def sent(content):
    return {
        "file": SimpleUploadedFile("class.json", content.encode() if isinstance(content, str) else content)
    }


def test_a_saved_file_is_the_projects_file(as_viewer, studio):
    project = make_project({"A": make_shade("Spruce")}, name="Évening shawl / 2")
    answer = as_viewer.get(reverse("project-save", args=[project.pk]))
    assert answer.content.decode() == project_file(project)
    assert answer["Content-Type"] == "application/json" and answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"] == 'attachment; filename="evening-shawl-2.warpshelf-project.json"'


def test_the_file_is_shown_and_nothing_is_kept_before_it_is_said(as_owner, text):
    answer = as_owner.post(OPEN, sent(text))
    page = answer.content.decode()
    assert answer.status_code == 200 and not Project.objects.exists()
    assert "Class sampler" in page and "Bring scissors." in page and "9, a warp each" in page
    assert page.count("A shade of this name and yarn is on your shelf.") == 3


def confirm(client, text, **typed):
    form = client.post(OPEN, sent(text)).context["form"]
    data = {bound.html_name: bound.value() or "" for bound in form}
    return client.post(OPEN, data | typed)


def test_what_is_confirmed_becomes_a_project_and_its_file_is_the_same(as_owner, text):
    answer = confirm(as_owner, text, occasion="beginners' weekend")
    project = Project.objects.get()
    assert answer.url == reverse("project-page", args=[project.pk])
    assert project.occasion == "beginners' weekend"
    assert project_file(project) == text


def test_a_shade_that_is_not_here_is_offered_others_and_stays_open_if_nobody_chooses(as_owner, text):
    Shade.objects.filter(name="Ember").update(name="Rust", search="rust")
    page = as_owner.post(OPEN, sent(text))
    assert "No shade here has this name and yarn." in page.content.decode()
    field = page.context["form"].fields["shade_C"]
    assert field.initial == "open" and ("open", "leave it open") in field.choices
    confirm(as_owner, text)
    project = Project.objects.get()
    assert project.open_keys == "C"
    assert "C has no shade yet." in as_owner.get(reverse("project-page", args=[project.pk])).content.decode()


def test_a_chosen_shade_is_taken(as_owner, text):
    Shade.objects.filter(name="Ember").update(name="Rust", search="rust")
    rust = Shade.objects.get(name="Rust")
    confirm(as_owner, text, shade_C=str(rust.pk))
    assert Project.objects.get().shades.get(key="C").shade == rust


def test_a_shelf_with_nothing_near_opens_the_plan_all_the_same(as_owner, text):
    Shade.objects.all().delete()
    page = as_owner.post(OPEN, sent(text)).content.decode()
    assert "it stays open until you name its shade in the plan" in page
    answer = confirm(as_owner, text)
    # B is wound on a beam of its own, and only its shade says so.
    assert answer.status_code == 422 and "B is wound on a beam of its own" in answer.content.decode()
    assert not Project.objects.exists()


def test_a_name_that_is_taken_here_gets_a_number(as_owner, text):
    make_project({"A": make_shade("Other")}, name="Class sampler")
    confirm(as_owner, text)
    assert Project.objects.filter(name="Class sampler (2)").exists()


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"name": ""}, "name"),
        ({"name": "Taken"}, "name"),
        ({"need_on": "soon"}, "need_on"),
        ({"shade_A": "999999"}, "shade_A"),
        ({"shade_A": "moonlight"}, "shade_A"),
        ({"shade_A": ""}, "shade_A"),
    ],
)
def test_bad_typing_names_its_field_keeps_the_file_and_writes_nothing(as_owner, text, typed, field):
    make_project(
        {"A": make_shade("Other", yarn=make_yarn("Far", count="2/28", system="metric"))}, name="Taken"
    )
    answer = confirm(as_owner, text, **typed)
    assert answer.status_code == 422 and field in answer.context["form"].errors
    assert answer.context["form"]["text"].value() == text
    assert Project.objects.count() == 1


def test_one_shade_for_two_keys_is_refused(as_owner, text):
    flax = Shade.objects.get(name="Flax")
    answer = confirm(as_owner, text, shade_A=str(flax.pk))
    assert "This shade stands under A already" in answer.content.decode() and answer.status_code == 422


@pytest.mark.parametrize(
    "content", ["", "moonlight", "[]", "{}", "<script>", "\x00", '{"format": "warpshelf-project"}']
)
def test_what_is_no_project_file_is_refused_in_words(as_owner, studio, content):
    answer = as_owner.post(OPEN, sent(content))
    assert answer.status_code == 422 and "file" in answer.context["form"].errors
    assert not Project.objects.exists()


def test_no_file_and_a_file_too_large_are_refused(as_owner, studio):
    assert "Choose a project file." in as_owner.post(OPEN, {}).content.decode()
    answer = as_owner.post(OPEN, sent(b" " * (MOST_BYTES + 1)))
    assert answer.status_code == 422 and "more than 200 kB" in answer.content.decode()


def test_a_file_that_was_changed_between_the_two_steps_is_read_anew(as_owner, text):
    found = json.loads(text)
    found["plan"]["pieces"] = -1
    answer = as_owner.post(OPEN, {"text": json.dumps(found), "name": "New"})
    assert answer.status_code == 422 and "plan.pieces: a whole number" in answer.content.decode()
    assert not Project.objects.exists()


def test_hostile_words_in_a_file_are_shown_as_words(as_owner, text):
    found = json.loads(text)
    found["name"] = found["shades"][0]["name"] = found["shades"][0]["yarn"]["name"] = (
        "<script>alert(1)</script>"
    )
    page = as_owner.post(OPEN, sent(json.dumps(found))).content.decode()
    assert "<script>alert(1)" not in page


def test_helpers_and_visitors_open_no_files(as_helper, studio):
    assert as_helper.get(OPEN).status_code == 403
    assert OPEN not in as_helper.get("/projects/").content.decode()
