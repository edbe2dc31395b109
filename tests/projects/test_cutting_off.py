"""When the cloth comes off, the loom learns what is left of the warp."""

import pytest
from django.urls import reverse

from projects.models import Project, ProjectNote
from projects.services.cutting_off import MOST_ORDER, Left, cut_off
from stash.models import Loom
from stash.services.refusal import Refusal
from tests.factories import make_project

pytestmark = pytest.mark.django_db

YARD = 914_400


@pytest.fixture
def loom():
    return Loom.objects.create(name="Floor loom", weaving_width_um=10**6, shafts=4, waste_um=700_000)


@pytest.fixture
def project(loom, studio):
    made = make_project("Lantern mats")
    Project.objects.filter(pk=made.pk).update(loom=loom, stage="weaving")
    made.refresh_from_db()
    return made


def address(project):
    return reverse("project-cut-off", args=[project.pk])


def test_what_is_left_is_noted_with_the_loom_and_in_the_record(project, loom, owner):
    cut_off(pk=project.pk, by=owner, loom_id=loom.pk, left=Left(2 * YARD, 168, "Lantern mats: 1 A"))
    loom.refresh_from_db()
    project.refresh_from_db()
    assert (loom.left_um, loom.left_ends, loom.left_of, loom.version) == (
        2 * YARD,
        168,
        "Lantern mats: 1 A",
        2,
    )
    assert project.stage == "cut_off"
    assert ProjectNote.objects.get().text == "Cut off. A rest of the warp, 168 ends, stays on Floor loom."


def test_nothing_left_clears_what_was_noted_before(project, loom, owner):
    Loom.objects.update(left_um=YARD, left_ends=9, left_of="old")
    cut_off(pk=project.pk, by=owner, loom_id=loom.pk)
    loom.refresh_from_db()
    assert (loom.left_um, loom.left_ends, loom.left_of) == (0, 0, "")


def test_without_a_loom_only_the_step_is_written(project, owner):
    Loom.objects.update(left_um=YARD, left_ends=9)
    cut_off(pk=project.pk, by=owner)
    assert Loom.objects.get().left_um == YARD


@pytest.mark.parametrize(
    ("left", "field"),
    [
        (Left(0, 4, ""), "left"),
        (Left(-1, 4, ""), "left"),
        (Left(10**16, 4, ""), "left"),
        (Left(YARD, 0, ""), "ends"),
        (Left(YARD, 10**7, ""), "ends"),
        (Left(YARD, 4, "x" * (MOST_ORDER + 1)), "of"),
    ],
)
def test_a_rest_that_is_none_is_refused_and_nothing_is_written(project, loom, owner, left, field):
    with pytest.raises(Refusal) as error:
        cut_off(pk=project.pk, by=owner, loom_id=loom.pk, left=left)
    assert error.value.field == field
    project.refresh_from_db()
    assert project.stage == "weaving" and not ProjectNote.objects.exists()


def test_a_rest_lies_on_a_loom(project, owner):
    with pytest.raises(Refusal) as error:
        cut_off(pk=project.pk, by=owner, left=Left(YARD, 4, ""))
    assert error.value.field == "loom"
    with pytest.raises(Refusal, match="no such loom"):
        cut_off(pk=project.pk, by=owner, loom_id=0, left=Left(YARD, 4, ""))


def test_it_is_cut_off_once(project, loom, owner):
    cut_off(pk=project.pk, by=owner)
    with pytest.raises(Refusal, match="already"):
        cut_off(pk=project.pk, by=owner, loom_id=loom.pk, left=Left(YARD, 4, ""))
    with pytest.raises(Refusal, match="already"):
        cut_off(pk=project.pk, by=owner, stood="weaving")


def test_the_longest_warp_that_went_well_is_the_looms(project, loom, owner):
    cut_off(pk=project.pk, by=owner, loom_id=loom.pk, went_well=True)
    loom.refresh_from_db()
    assert loom.longest_warp_um == project.warp_um


def test_a_shorter_warp_or_one_that_went_badly_says_nothing_of_the_beam(project, loom, owner):
    Loom.objects.update(longest_warp_um=project.warp_um + 1)
    cut_off(pk=project.pk, by=owner, loom_id=loom.pk, went_well=True)
    assert Loom.objects.get().longest_warp_um == project.warp_um + 1


# Page


def test_the_page_begins_with_the_plans_loom_ends_and_order(as_helper, project, loom):
    form = as_helper.get(address(project)).context["form"]
    assert form["loom"].value() == loom.pk
    assert form["ends"].value() == str(project.ends)
    assert form["of"].value() == "Lantern mats: 1 A"
    assert "would be the longest warp that Floor loom took; none is noted." in str(
        form.fields["went_well"].help_text
    )


def test_an_empty_form_cuts_off_with_nothing_left(as_helper, project):
    assert as_helper.post(address(project), {"stood": "weaving"}).status_code == 302
    project.refresh_from_db()
    assert project.stage == "cut_off"


def test_a_filled_form_says_what_can_be_tied_on_to(as_helper, project, loom):
    typed = {
        "loom": loom.pk,
        "left": "2.1 yd",
        "ends": "168",
        "of": "mats",
        "went_well": "on",
        "stood": "weaving",
    }
    text = as_helper.post(address(project), typed, follow=True).content.decode()
    assert "2.10 yd of 168 ends are noted with Floor loom" in text
    loom.refresh_from_db()
    assert (loom.left_um, loom.left_ends, loom.left_of) == (1_920_240, 168, "mats")
    assert loom.longest_warp_um == project.warp_um


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"left": "lots"}, "left"),
        ({"left": "-2"}, "left"),
        ({"left": "2", "ends": ""}, "ends"),
        ({"left": "2", "ends": "many"}, "ends"),
        ({"left": "2", "ends": "4", "loom": ""}, "loom"),
        ({"left": "2", "ends": "4", "loom": "999"}, "loom"),
        ({"left": "2", "ends": "4", "of": "x" * 121}, "of"),
    ],
)
def test_bad_typing_names_its_field_and_writes_nothing(as_helper, project, loom, typed, field):
    answer = as_helper.post(address(project), {"loom": loom.pk, "ends": "168", "stood": "weaving"} | typed)
    assert answer.status_code == 422 and field in answer.context["form"].errors
    project.refresh_from_db()
    assert project.stage == "weaving" and Loom.objects.get().left_um == 0


def test_the_page_of_a_plan_without_a_loom_asks_for_none(as_helper, project):
    Project.objects.update(loom=None)
    assert "went_well" not in as_helper.get(address(project)).context["form"].fields
