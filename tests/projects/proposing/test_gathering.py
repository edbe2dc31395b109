"""What a proposal starts from: who wants what, what each holds, which cones; and what it costs to ask."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from projects.models import Project, Stage
from projects.proposing.gathering import gather
from projects.services.reserving import reserve_project
from projects.services.trials import Change, make_trial
from stash.models import Condition, Cone
from stash.services.using import take_as_wound
from tests.factories import make_cone, make_shade
from tests.projects.shortages import mats, mats_plan, yard_yarn

pytestmark = pytest.mark.django_db


@pytest.fixture
def shades(owner):
    yarn = yard_yarn()
    found = {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn)}
    for shade in found.values():
        make_cone(shade, grams=200, lot="1", by=owner)
    return found


def test_who_needs_yarn_first_stands_first(shades):
    for name, day in (("None", None), ("Later", date(2031, 5, 1)), ("First", date(2031, 3, 1))):
        mats(shades, name=name, need_on=day)
    assert [party.name for party in gather().parties] == ["First", "Later", "None"]


def test_what_is_not_begun_may_move_with_all_that_it_holds(shades):
    project = mats(shades)
    reserve_project(pk=project.pk)
    (party,) = gather().parties
    assert [(part.use, part.ends, part.mass_mg) for part in party.held] == [
        ("warp", 11, 55_000),
        ("weft", 0, 50_000),
    ]
    assert all(cone.kept_mg == 0 and cone.open_mg == 200_000 for cone in gather().cones.values())


def test_what_is_begun_stays_and_what_it_holds_is_no_ones_to_share(shades, owner):
    begun = mats(shades, name="Begun")
    reserve_project(pk=begun.pk)
    begun.refresh_from_db()
    take_as_wound(claim_id=begun.claim_id, by=owner)
    mats(shades, name="Waiting")
    found = gather()
    assert [party.name for party in found.parties] == ["Waiting"]
    assert [(one.name, one.why) for one in found.staying] == [("Begun", "Its warp is wound")]
    rust = next(cone for cone in found.cones.values() if cone.shade_id == shades["B"].pk)
    assert (rust.kept_mg, rust.open_mg) == (50_000, 150_000)


@pytest.mark.parametrize("stage", [Stage.WOUND, Stage.DRESSED, Stage.CUT_OFF])
def test_a_project_that_stands_at_a_later_step_stays_though_no_yarn_was_taken(shades, stage):
    Project.objects.filter(pk=mats(shades).pk).update(stage=stage)
    found = gather()
    assert not found.parties and found.staying[0].why.startswith("It stands at")


def test_trials_and_what_is_put_away_are_left_out(shades):
    first = mats(shades, name="First")
    make_trial(
        pk=first.pk,
        change=Change("fewer", first.plan, {row.key: row.shade_id for row in first.shades.all()}, {}),
        version=first.version,
    )
    assert [party.pk for party in gather().parties] == [first.pk]


def test_cones_that_no_project_may_be_given_are_not_shared_out(shades, owner):
    mats(shades)
    cone = make_cone(shades["A"], grams=500, by=owner)
    Cone.objects.filter(pk=cone.pk).update(condition=Condition.QUARANTINE)
    assert cone.pk not in gather().cones


def test_the_packages_wound_from_side_by_side_are_those_of_the_warps_passes(shades):
    project = mats(shades)
    assert [one.packages for one in gather().parties[0].wanted] == [2, 1]
    Project.objects.filter(pk=project.pk).update(at_once=1)
    assert [one.packages for one in gather().parties[0].wanted] == [1, 1]


def test_others_count_as_those_that_do_not_move_where_only_some_are_asked_for(shades):
    first, other = mats(shades, name="First"), mats(shades, name="Other")
    reserve_project(pk=other.pk)
    found = gather([first.pk], with_plans=False)
    assert [party.pk for party in found.parties] == [first.pk]
    assert sum(cone.kept_mg for cone in found.cones.values()) == 105_000


def test_twice_the_rows_ask_the_same(shades, owner):
    """Projects; their shades and beams; what they need of each; reservations; cones. Every count is of seven."""
    counts = []
    for round_ in range(2):
        for number in range(2):
            project = mats(shades, name=f"Mats {round_} {number}", plan=mats_plan(pieces=1))
            reserve_project(pk=project.pk)
            make_cone(shades["A"], grams=50, lot=f"L{round_}{number}", by=owner)
        with CaptureQueriesContext(connection) as caught:
            gather()
        counts.append(len(caught))
    assert counts == [6, 6]
