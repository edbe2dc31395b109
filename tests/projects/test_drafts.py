"""A plan with a draft of its own: typed, kept in order, drawn, and refused where it cannot be woven."""

import pytest
from django.urls import reverse

from projects.around import around
from projects.models import Project
from projects.services.planning import save_project
from projects.services.trials import make_trial
from projects.ways import change_by, ways_of
from stash.calc.draft import DRAFT, Draft
from stash.calc.errors import CalcError
from stash.calc.writing import Measures
from tests.factories import make_cone, make_shade
from tests.projects.factories import INCH, make_project
from tests.projects.pages import typed_plan
from tests.projects.plans import facts
from tests.projects.shortages import mats, mats_plan, yard_yarn

POINT = {
    "structure": DRAFT,
    "threading": "1-4 3 2",
    "tie_up": "1+2, 2+3, 3+4, 4+1",
    "treadling": "1 2 3 4",
    "lift_plan": "",
}


@pytest.fixture
def spruce(owner):
    return make_shade("Spruce")


@pytest.fixture
def project(spruce):
    return make_project({"A": spruce})


def send(client, project, **changes):
    data = typed_plan(client, project, **changes)
    return client.post(reverse("project-page", args=[project.pk]), data)


def test_a_draft_is_kept_in_order_and_woven(as_owner, project):
    assert send(as_owner, project, **POINT).status_code == 302
    kept = Project.objects.get(pk=project.pk)
    assert (kept.threading, kept.tie_up) == ("1-4, 3, 2", "1+2, 2+3, 3+4, 1+4")
    assert isinstance(kept.weave, Draft)
    assert kept.weave.threading == (1, 2, 3, 4, 3, 2)


def test_a_lift_plan_does_as_well(as_owner, project):
    changes = POINT | {"tie_up": "", "treadling": "", "lift_plan": "1+2 2+3 3+4 4+1"}
    assert send(as_owner, project, **changes).status_code == 302
    assert Project.objects.get(pk=project.pk).lift_plan == "1+2, 2+3, 3+4, 1+4"


def test_the_page_shows_what_was_kept(as_owner, project):
    send(as_owner, project, **POINT)
    text = as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    assert "1-4, 3, 2" in text
    assert "A draft of its own on 4 shafts, as woven." in text


def test_one_who_may_only_read_sees_the_draft(as_viewer, spruce):
    project = make_project({"A": spruce}, **POINT)
    text = as_viewer.get(reverse("project-page", args=[project.pk])).content.decode()
    assert "Threading, from the left" in text
    assert "1-4, 3, 2" in text


def test_lines_of_a_draft_not_chosen_are_kept_and_never_stand_in_the_way(as_owner, project):
    assert send(as_owner, project, structure="plain", threading="1, 2 and so on").status_code == 302
    assert Project.objects.get(pk=project.pk).threading == "1, 2 and so on"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"threading": ""}, "A threading is missing"),
        ({"threading": "1, 2, x"}, "At character 7: “x” cannot stand here"),
        ({"tie_up": "1+2, 5"}, "Treadle 2 lifts shaft 5, and no end is threaded on it"),
        ({"treadling": "1, 9"}, "Pick 2 presses treadle 9; the tie-up has 4 treadles"),
        ({"treadling": "1"}, "Shaft 3 is never lifted"),
        ({"treadling": "", "tie_up": ""}, "Give a tie-up"),
        ({"lift_plan": "1, 2"}, "one of the two is enough"),
        ({"tie_up": "1+2+3+4, 1", "treadling": "1, 2"}, "Pick 1 lifts every shaft"),
        ({"threading": "1, " * 900}, "at most 2000 characters"),
    ],
)
def test_a_draft_that_cannot_be_woven_is_refused_at_its_line(as_owner, project, changes, said):
    answer = send(as_owner, project, **(POINT | changes))
    assert answer.status_code == 422
    text = answer.content.decode()
    assert said in text
    assert Project.objects.get(pk=project.pk).structure == "plain"


def test_the_preview_says_what_is_missing_while_it_is_typed(as_owner, project):
    data = typed_plan(as_owner, project, **(POINT | {"treadling": "1, 9"}))
    answer = as_owner.post(reverse("project-preview", args=[project.pk]), data)
    assert answer.status_code == 200
    assert "Pick 2 presses treadle 9" in answer.content.decode()


def test_the_service_refuses_a_draft_that_cannot_be_woven(spruce):
    with pytest.raises(CalcError) as refused:
        save_project(facts=facts(spruce, structure=DRAFT, threading="1, 2"))
    assert refused.value.field == "tie_up"
    assert not Project.objects.exists()


def test_a_threading_that_stops_within_a_repeat_is_said_before_it_is_threaded(as_owner, project):
    # Ten ends: six, and four of the next repeat.
    send(as_owner, project, **POINT)
    text = as_owner.get(reverse("project-page", args=[project.pk])).content.decode()
    assert "The threading of 6 ends goes into the warp 1 time, and 4 ends of it once more" in text


def test_a_long_float_is_warned_of_and_a_bound_thread_is_not(as_owner, project):
    # One end and one pick to the inch: a float over two is two inches long.
    address = reverse("project-page", args=[project.pk])
    assert "catch easily" not in as_owner.get(address).content.decode()
    send(as_owner, project, structure="twill-2-2")
    text = as_owner.get(address).content.decode()
    assert "The warp floats over 2 picks, 2.00 in on the loom" in text
    assert "The weft floats over 2 ends, 2.00 in on the loom" in text


def test_the_page_of_the_cloth_draws_the_draft_and_says_it_in_words(as_owner, project):
    send(as_owner, project, **POINT)
    text = as_owner.get(reverse("project-cloth-page", args=[project.pk])).content.decode()
    assert (
        "Threading from the left: 1, 2, 3, 4, 3, 2. Tie-up, treadle by treadle: 1+2, 2+3, 3+4, 1+4." in text
    )
    assert "Treadling from the first pick: 1, 2, 3, 4." in text
    assert " style=" not in text


def turned_trial(owner, **structure):
    """Mats that are short of warp, woven turned: as in the tests of ways out."""
    yarn = yard_yarn()
    shades = {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn)}
    make_cone(shades["A"], grams=55, by=owner)
    make_cone(shades["B"], grams=100, by=owner)
    pk = mats(shades, plan=mats_plan(waste_um=36 * INCH), piece_name="mats", **structure).pk
    project = Project.objects.with_shades().get(pk=pk)
    measures = Measures("imperial", "g")
    near = around(project, measures)
    found = ways_of(project, near, measures)
    token = next(one.token for one in found.told if one.name.startswith("Turn the mats"))
    return project, make_trial(pk=pk, change=change_by(token, found.found, project, near))


def test_a_piece_woven_turned_shows_the_other_system(owner):
    _, trial = turned_trial(owner, structure="twill-1-3")
    assert trial.structure == "twill-3-1"


def test_a_draft_is_turned_with_its_piece(owner):
    project, trial = turned_trial(owner, **POINT)
    before, after = project.weave, Project.objects.get(pk=trial.pk).weave
    assert (trial.structure, trial.tie_up) == (DRAFT, "")
    assert all(after.up(end, pick) != before.up(pick, end) for end in range(12) for pick in range(12))
