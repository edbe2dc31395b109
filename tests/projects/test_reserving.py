"""A project's reservation: whole, repeatable, never against itself, and given back to the last milligram."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from projects.holding import holding_of
from projects.judging import judge_all
from projects.models import Project
from projects.services.planning import put_away, save_project
from projects.services.reserving import release_project, reserve_project
from stash.calc.verdict import Verdict
from stash.models import Claim, Cone, Reservation, Shortage
from stash.services.refusal import Refusal
from stash.services.weighing import weigh
from tests.books import assert_books_agree, told
from tests.factories import make_cone, make_shade
from tests.projects.plans import a_plan, facts, mass_needed, plan_for

pytestmark = pytest.mark.django_db


@pytest.fixture
def spruce():
    return make_shade("Spruce")


@pytest.fixture
def rust(spruce):
    return make_shade("Rust", yarn=spruce.yarn)


def held(project: Project) -> list[tuple[int, str, int, int, int]]:
    project.refresh_from_db()
    lines = Reservation.objects.filter(claim_id=project.claim_id)
    return sorted(lines.values_list("cone_id", "use", "ends", "length_um", "mass_mg"))


def balances() -> list[tuple[int, int, int]]:
    return list(Cone.objects.order_by("pk").values_list("pk", "on_hand_mg", "reserved_mg"))


def verdict(project: Project) -> Verdict:
    ((_, judged),) = judge_all(Project.objects.filter(pk=project.pk))
    return judged.state


def test_the_buffered_need_is_put_aside_when_it_is_there(spruce, rust):
    for shade in (spruce, rust):
        make_cone(shade, grams=500, lot="A1")
    project = plan_for(spruce, rust)
    outcome = told(reserve_project, pk=project.pk)
    assert (outcome.short_keys, outcome.bare_keys) == ([], [])
    for row in project.shades.all():
        lines = Reservation.objects.filter(cone__shade=row.shade_id)
        assert sum(line.ends for line in lines) == row.ends_buffered
        assert sum(line.mass_mg for line in lines) == mass_needed(row, buffered=True)
    assert not Shortage.objects.exists()


def test_the_bare_need_is_put_aside_when_the_buffer_is_not_there(spruce):
    project = plan_for(spruce)
    row = project.shades.get()
    make_cone(spruce, scale_mg=mass_needed(row, buffered=True) - 1)
    outcome = told(reserve_project, pk=project.pk)
    assert (outcome.short_keys, outcome.bare_keys) == ([], ["A"])
    assert sum(line[4] for line in held(project)) == mass_needed(row)


def test_what_is_not_there_is_kept_as_a_shortage_in_ends_length_and_mass(spruce):
    """The warp of 100 ends lies on the shelf, and no weft: 68 ends and all the weft are missing."""
    project = plan_for(spruce)
    row = project.shades.get()
    grist = row.grist
    make_cone(spruce, scale_mg=-(-100 * project.warp_um * grist.mass_mg // grist.length_um))
    outcome = told(reserve_project, pk=project.pk)
    assert outcome.short_keys == ["A"]
    short, (line, *weft) = Shortage.objects.get(), held(project)
    assert (row.ends, line[2], short.ends) == (168, 100, 68)
    assert short.length_um == 68 * project.warp_um + row.need().weft_um(4) - sum(one[3] for one in weft)
    assert short.mass_mg == -(-short.length_um * grist.mass_mg // grist.length_um)
    assert short.claim == project.claim and short.shade == spruce


def test_an_empty_shelf_reserves_nothing_and_misses_everything(spruce):
    project = plan_for(spruce)
    told(reserve_project, pk=project.pk)
    assert held(project) == []
    assert Shortage.objects.get().ends == project.shades.get().ends


def test_reserving_twice_holds_the_same_as_reserving_once(spruce, rust):
    for shade, grams in ((spruce, 40), (spruce, 45), (rust, 300)):
        make_cone(shade, grams=grams)
    project = plan_for(spruce, rust)
    told(reserve_project, pk=project.pk)
    first, before = held(project), balances()
    shortages = list(Shortage.objects.values_list("shade", "ends", "length_um", "mass_mg"))
    for _ in range(2):
        told(reserve_project, pk=project.pk)
        assert (held(project), balances()) == (first, before)
    assert list(Shortage.objects.values_list("shade", "ends", "length_um", "mass_mg")) == shortages
    assert Claim.objects.count() == 1


SHELVES = {
    "empty": [],
    "a little": [20],
    "many small cones": [15] * 8,
    "just short of the bare need": [113],
    "between bare and buffered": [118],
    "one large cone": [500],
    "two lots": [70, 70],
}


@pytest.mark.parametrize("shelf", SHELVES)
def test_reserving_then_releasing_changes_nothing_on_the_shelf(spruce, shelf):
    for number, grams in enumerate(SHELVES[shelf]):
        make_cone(spruce, grams=grams, lot=f"L{number % 2}")
    project, before = plan_for(spruce), balances()
    told(reserve_project, pk=project.pk)
    told(release_project, pk=project.pk)
    assert balances() == before
    assert not Reservation.objects.exists() and not Shortage.objects.exists()


@pytest.mark.parametrize("shelf", SHELVES)
def test_ones_own_reservation_never_worsens_the_verdict(spruce, shelf):
    for number, grams in enumerate(SHELVES[shelf]):
        make_cone(spruce, grams=grams, lot=f"L{number % 2}")
    project = plan_for(spruce)
    before = verdict(project)
    reserve_project(pk=project.pk)
    assert verdict(project) == before
    reserve_project(pk=project.pk)
    assert verdict(project) == before


def test_the_shelves_above_lead_to_every_verdict(spruce):
    found = set()
    project = plan_for(spruce)
    for grams in (113, 118, 500):
        Cone.objects.update(on_hand_mg=0)
        make_cone(spruce, grams=grams)
        found.add(verdict(project))
    assert found == {Verdict.SHORT, Verdict.TIGHT, Verdict.ENOUGH}


def test_a_rival_sees_only_what_is_left_and_takes_nothing_from_the_first(spruce):
    make_cone(spruce, grams=150)
    first, second = plan_for(spruce), plan_for(spruce, name="Second mats")
    told(reserve_project, pk=first.pk)
    mine = held(first)
    outcome = told(reserve_project, pk=second.pk)
    assert outcome.short_keys == ["A"]
    assert held(first) == mine
    assert (verdict(first), verdict(second)) == (Verdict.ENOUGH, Verdict.SHORT)
    told(release_project, pk=first.pk)
    assert told(reserve_project, pk=second.pk).short_keys == []


def test_an_undercut_reservation_is_made_good_from_what_is_there_and_others_keep_theirs(spruce, owner):
    cone = make_cone(spruce, grams=300, by=owner)
    first, second = plan_for(spruce), plan_for(spruce, name="Second mats")
    reserve_project(pk=first.pk)
    reserve_project(pk=second.pk)
    theirs = held(second)
    told(weigh, cone_id=cone.pk, scale_mg=200_000, gross=False, by=owner)
    cone.refresh_from_db()
    assert cone.free_mg == 0 and cone.undercut_mg == cone.reserved_mg - 200_000
    assert (verdict(first), held(second)) == (Verdict.SHORT, theirs)

    told(reserve_project, pk=first.pk)

    cone.refresh_from_db()
    assert cone.undercut_mg == 0
    assert held(second) == theirs
    assert Shortage.objects.get().claim.name == first.name


def test_the_claim_carries_name_day_and_rank_from_the_first_reservation_on(spruce):
    project = plan_for(spruce, need_on=date(2031, 5, 1), rank=3)
    assert project.claim is None
    reserve_project(pk=project.pk)
    project.refresh_from_db()
    assert (project.claim.name, project.claim.need_on, project.claim.rank) == (
        "Lantern mats",
        date(2031, 5, 1),
        3,
    )


def test_the_first_reservation_freezes_the_grist_and_a_shade_added_later_is_frozen_at_the_next(spruce, rust):
    project = plan_for(spruce)
    reserve_project(pk=project.pk)
    save_project(facts=facts(spruce, rust), pk=project.pk)
    assert [row.frozen_um is None for row in project.shades.all()] == [False, True]
    reserve_project(pk=project.pk)
    assert [row.frozen_um is None for row in project.shades.all()] == [False, False]
    assert not any(row.grist_moved for row in project.shades.select_related("shade__yarn"))


def test_a_plan_edited_afterwards_keeps_its_reservation_until_it_reserves_again(spruce):
    make_cone(spruce, grams=500)
    project = plan_for(spruce)
    reserve_project(pk=project.pk)
    before = held(project)
    save_project(facts=facts(spruce, plan=a_plan("1 A", "1 A", pieces=2)), pk=project.pk)
    assert held(project) == before
    told(reserve_project, pk=project.pk)
    assert held(project) != before
    assert sum(line[4] for line in held(project)) < sum(line[4] for line in before)


def test_yarn_of_a_shade_that_left_the_plan_stays_reserved_and_is_seen_until_released(spruce, rust):
    for shade in (spruce, rust):
        make_cone(shade, grams=500)
    project = plan_for(spruce, rust)
    reserve_project(pk=project.pk)
    save_project(facts=facts(spruce), pk=project.pk)
    project.refresh_from_db()
    assert [one.shade.name for one in holding_of(project).shades] == ["Rust", "Spruce"]

    told(release_project, pk=project.pk)
    assert all(reserved == 0 for _, _, reserved in balances())


def test_reserving_again_gives_back_the_yarn_of_a_shade_that_left_the_plan(spruce, rust):
    for shade in (spruce, rust):
        make_cone(shade, grams=500)
    project = plan_for(spruce, rust)
    reserve_project(pk=project.pk)
    save_project(facts=facts(spruce), pk=project.pk)
    told(reserve_project, pk=project.pk)
    assert Cone.objects.get(shade=rust).reserved_mg == 0
    assert Cone.objects.get(shade=spruce).reserved_mg > 0


def test_keys_that_changed_places_reserve_for_the_shade_not_for_the_key(spruce, rust):
    for shade in (spruce, rust):
        make_cone(shade, grams=500)
    plan = a_plan("3 A, 1 B", "1 A")
    project = plan_for(spruce, rust, plan=plan)
    reserve_project(pk=project.pk)
    much = Cone.objects.get(shade=spruce).reserved_mg
    save_project(facts=facts(rust, spruce, plan=plan), pk=project.pk)
    told(reserve_project, pk=project.pk)
    assert Cone.objects.get(shade=rust).reserved_mg == much


def test_a_plan_changed_since_it_was_read_is_not_reserved(spruce):
    make_cone(spruce, grams=500)
    project = plan_for(spruce)
    save_project(facts=facts(spruce, note="new"), pk=project.pk)
    with pytest.raises(Refusal, match="changed in another window"):
        reserve_project(pk=project.pk, version=1)
    assert not Reservation.objects.exists() and not Claim.objects.exists()
    reserve_project(pk=project.pk, version=2)


def test_a_project_put_away_is_not_reserved(spruce):
    make_cone(spruce, grams=500)
    project = plan_for(spruce)
    put_away(pk=project.pk)
    with pytest.raises(Refusal, match="put away"):
        reserve_project(pk=project.pk)
    assert not Reservation.objects.exists()


def test_a_project_that_is_gone_is_said_and_releasing_it_is_nothing(spruce):
    project = plan_for(spruce)
    Project.objects.filter(pk=project.pk).delete()
    with pytest.raises(Refusal, match="no such project"):
        reserve_project(pk=project.pk)
    release_project(pk=project.pk)


def test_releasing_what_was_never_reserved_is_nothing(spruce):
    release_project(pk=plan_for(spruce).pk)
    assert not Claim.objects.exists()


def test_reserving_reads_the_shelf_in_as_many_queries_for_many_cones_as_for_one(spruce):
    """Only the taking itself, one conditional UPDATE a line, grows with what is taken."""
    make_cone(spruce, grams=500)
    project = plan_for(spruce)
    reserve_project(pk=project.pk)
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as queries:
            reserve_project(pk=project.pk)
        counts.append(len(queries))
        for _ in range(6):
            make_cone(spruce, grams=1)
    assert counts[0] == counts[1]
    assert_books_agree()
