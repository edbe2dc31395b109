"""Tell me the most: what stops one from making more of a project, and what the free yarn gives at all."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from projects.models import Project
from projects.services.planning import put_away
from projects.services.reserving import reserve_project
from projects.services.trials import Change, make_trial
from stash.calc.colour_order import read_order
from stash.services.using import take_as_wound
from tests.factories import make_cone, make_shade
from tests.projects.shortages import mats, mats_plan, yard_yarn
from tests.stash.reading import Read

pytestmark = pytest.mark.django_db

WEAVABLE = "weavable"


@pytest.fixture
def shades(owner):
    yarn = yard_yarn()
    found = {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn)}
    make_cone(found["A"], grams=75, lot="1", by=owner)
    make_cone(found["B"], grams=70, lot="1", by=owner)
    return found


def more(project: Project, **query) -> str:
    parts = "&".join(f"{name}={value}" for name, value in query.items())
    return f"{reverse('project-more', args=[project.pk])}?{parts}"


def test_how_many_more_and_which_shade_stops_the_next(as_viewer, shades):
    """A mat takes 10 yd of each: 75 yd of Spruce give 7 ends of 10 yd, 70 yd of Rust 7 mats."""
    page = Read(as_viewer.get(more(mats(shades, piece_name="mats"), more=4)))
    assert "2 more can be woven, 7 mats in all." in page.text
    assert page.rows[1:] == [
        ["1 more", "6", "6.00 yd", "nothing"],
        ["2 more", "7", "7.00 yd", "nothing"],
        [
            "3 more",
            "8",
            "8.00 yd",
            "Rust by 10.0 yd of weft (10 g)Spruce by 1 warp end, 8.0 yd (8.0 g)",
        ],
        [
            "4 more",
            "9",
            "9.00 yd",
            "Rust by 20.0 yd of weft (20 g)Spruce by 2 warp ends, 18.0 yd (18 g)",
        ],
    ]


def test_a_plan_that_is_short_itself_says_by_how_many(as_viewer, shades):
    page = Read(as_viewer.get(more(mats(shades, plan=mats_plan(pieces=9), piece_name="mats"))))
    assert "The plan itself is more than the shelf gives, by 2 of its 9 mats." in page.text


def test_a_plan_that_takes_all_says_not_one_more(as_viewer, shades):
    assert (
        "Not one more can be woven." in Read(as_viewer.get(more(mats(shades, plan=mats_plan(pieces=7))))).text
    )


def test_what_the_project_has_put_aside_itself_counts_for_it(as_viewer, shades):
    project = mats(shades, piece_name="mats")
    reserve_project(pk=project.pk)
    assert "7 mats in all" in Read(as_viewer.get(more(project))).text


@pytest.mark.parametrize("typed", ["0", "51", "many", ""])
def test_a_number_that_is_none_is_refused_and_kept(as_viewer, shades, typed):
    answer = as_viewer.get(more(mats(shades), more=typed))
    assert answer.status_code == 422
    assert "more" in Read(answer).fields
    assert len(Read(answer).rows) == 7  # six lines are shown all the same


def test_every_plan_that_is_not_begun_says_how_far_the_free_yarn_goes(as_viewer, shades):
    mats(shades, name="Few", plan=mats_plan(pieces=2), piece_name="mats")
    mats(shades, name="Many", plan=mats_plan(pieces=9), piece_name="mats")
    page = Read(as_viewer.get(reverse(WEAVABLE)))
    assert page.row("Few")[1:3] == ["7 mats", "2"]
    assert page.row("Many")[1:3] == ["7 mats", "9"]
    assert "One more stops at Rust: 10.0 yd missing." in page.row("Many")[3]


def test_each_plan_stands_alone_but_what_others_put_aside_is_not_free(as_viewer, shades):
    first = mats(shades, name="First", plan=mats_plan(pieces=4), piece_name="mats")
    mats(shades, name="Second", plan=mats_plan(pieces=4), piece_name="mats")
    reserve_project(pk=first.pk)
    page = Read(as_viewer.get(reverse(WEAVABLE)))
    assert page.row("First")[1] == "7 mats"
    assert page.row("Second")[1] == "3 mats"


def test_begun_put_away_and_tried_plans_are_no_plans_to_weave(as_owner, owner, shades):
    begun = mats(shades, name="Begun", plan=mats_plan(pieces=1))
    reserve_project(pk=begun.pk)
    begun.refresh_from_db()
    take_as_wound(claim_id=begun.claim_id, by=owner)
    put_away(pk=mats(shades, name="Done", plan=mats_plan(pieces=1)).pk)
    first = mats(shades, name="First", plan=mats_plan(pieces=1))
    keyed = {row.key: row.shade_id for row in first.shades.all()}
    make_trial(pk=first.pk, change=Change("tried", first.plan, keyed, {}))
    page = Read(as_owner.get(reverse(WEAVABLE)))
    assert [row[0].startswith("First") for row in page.rows[1:]] == [True]


def test_kits_are_counted_over_all_their_warps(as_viewer, shades):
    project = mats(shades, name="Kits", plan=mats_plan(pieces=1), piece_name="samplers")
    Project.objects.filter(pk=project.pk).update(kit_students=3)
    # Three warps of ten ends: 75 yd of Spruce give 75 ends of a yard, 37 of 2 yd, 25 of 3 yd; 30 are needed.
    assert Read(as_viewer.get(reverse(WEAVABLE))).row("Kits")[1:3] == ["6 samplers", "3"]


@pytest.mark.parametrize(("who", "step"), [("as_owner", True), ("as_viewer", False)])
def test_without_a_plan_it_says_what_belongs_there(request, who, step):
    page = Read(request.getfixturevalue(who).get(reverse(WEAVABLE)))
    assert "No plan to weave yet" in page.text
    assert ("Plan a project" in page.links) is step


def test_it_is_linked_from_the_yarn_and_from_the_projects(as_viewer, studio):
    for name in ("yarn", "projects"):
        assert Read(as_viewer.get(reverse(name))).links["What can be woven?"] == reverse(WEAVABLE)


def queries(client, at: str) -> int:
    client.get(at)
    with CaptureQueriesContext(connection) as caught:
        assert client.get(at).status_code == 200
    return len(caught)


def test_what_can_be_woven_asks_the_same_for_twice_the_plans(as_viewer, owner, shades):
    """Studio, session, person; how many; a page of them; their shades; beams; what is their own; the cones."""
    counts = []
    for number in range(2):
        for at in range(2 + number):
            name = f"{number}{at}"
            order = read_order("1 A, 1 B")
            plan = mats_plan(pieces=1, order=order)
            reserve_project(pk=mats(shades, name=name, plan=plan, need_on=date(2031, 1, 1)).pk)
        counts.append(queries(as_viewer, reverse(WEAVABLE)))
    assert counts == [3 + 6] * 2


def test_how_many_more_asks_the_same_for_twice_the_shades(as_viewer, owner):
    """Studio, session, person; the project; its shades; what is its own; the cones."""
    counts = []
    yarn = yard_yarn("Of many")
    for number in (2, 4):
        found = {key: make_shade(f"{number} {key}", yarn) for key in "ABCD"[:number]}
        for shade in found.values():
            make_cone(shade, grams=100, lot="1", by=owner)
        order = read_order(", ".join(f"1 {key}" for key in found))
        project = mats(found, name=f"Of {number}", plan=mats_plan(order=order, pick_order=order))
        reserve_project(pk=project.pk)
        counts.append(queries(as_viewer, more(project, more=3)))
    assert counts == [3 + 4] * 2
