"""Twenty hands reach for the same cone: what is there is promised once, and never more of it."""

from functools import partial
from threading import Barrier

import pytest
from django.db.models import F
from django.utils import timezone

from projects.models import Project
from projects.services.reserving import release_project, reserve_project
from stash.models import Claim, Cone, Reservation, Shortage
from stash.services.cones import retire_cone
from stash.services.receiving import receive_cone
from stash.services.refusal import NotEnoughFree, Refusal
from stash.services.reserving import Wanted, release, reserve
from stash.services.weighing import weigh
from tests.books import assert_books_agree
from tests.concurrency.racing import MOST_SECONDS, race, sorted_out
from tests.factories import ClaimFactory, PersonFactory, make_cone, make_shade
from tests.projects.plans import mass_needed, plan_for

pytestmark = pytest.mark.django_db(transaction=True)

HANDS, EACH_MG = 20, 50_000


def weft(cone: Cone, mass_mg: int = EACH_MG) -> Wanted:
    return Wanted(cone.pk, "weft", 0, mass_mg, mass_mg)


def test_of_twenty_hands_at_once_exactly_the_ten_are_served_for_whom_there_is_yarn():
    cone = make_cone(grams=500)
    claims = [ClaimFactory() for _ in range(HANDS)]
    results = race([partial(reserve, claim_id=claim.pk, wanted=[weft(cone)]) for claim in claims])
    assert sorted_out(results, NotEnoughFree) == (10, 10)
    assert {(error.asked_mg, error.free_mg) for error in results if error} == {(EACH_MG, 0)}
    cone.refresh_from_db()
    assert (cone.reserved_mg, cone.free_mg, Reservation.objects.count()) == (500_000, 0, 10)
    assert_books_agree()


def test_the_race_is_real_without_the_guard_more_is_promised_than_there_is():
    """The twin of the test above: all look first, then all write without the condition and the lock."""
    cone = make_cone(grams=500)
    claims = [ClaimFactory() for _ in range(HANDS)]
    all_have_looked = Barrier(HANDS, timeout=MOST_SECONDS)

    def reserve_unguarded(claim: Claim) -> None:
        enough = Cone.objects.get(pk=cone.pk).free_mg >= EACH_MG
        all_have_looked.wait()
        if not enough:
            raise NotEnoughFree(cone.code, EACH_MG, 0)
        Cone.objects.filter(pk=cone.pk).update(reserved_mg=F("reserved_mg") + EACH_MG)
        Reservation.objects.create(
            claim=claim, cone=cone, use="weft", length_um=1, mass_mg=EACH_MG, made_at=timezone.now()
        )

    served, _ = sorted_out(race([partial(reserve_unguarded, claim) for claim in claims]), NotEnoughFree)
    cone.refresh_from_db()
    assert served == HANDS
    assert cone.undercut_mg == HANDS * EACH_MG - 500_000


def test_of_six_rival_projects_the_three_are_served_for_which_there_is_yarn():
    shade = make_shade()
    projects = [plan_for(shade, name=f"Mats {number}") for number in range(6)]
    need = mass_needed(projects[0].shades.get(), buffered=True)
    cone = make_cone(shade, scale_mg=3 * need)
    results = race([partial(reserve_project, pk=project.pk) for project in projects])
    assert sorted_out(results, ()) == (6, 0)
    assert sorted(len(outcome.short_keys) for outcome in results) == [0, 0, 0, 1, 1, 1]
    cone.refresh_from_db()
    assert cone.reserved_mg == cone.on_hand_mg == 3 * need
    assert Shortage.objects.count() == 3
    assert_books_agree()


def test_browsers_that_reserve_one_project_at_once_reserve_it_once():
    shade = make_shade()
    cone = make_cone(shade, grams=5_000)
    project = plan_for(shade)
    assert sorted_out(race([partial(reserve_project, pk=project.pk)] * 6), ()) == (6, 0)
    cone.refresh_from_db()
    assert cone.reserved_mg == mass_needed(project.shades.get(), buffered=True)
    assert Claim.objects.count() == 1
    assert sorted(Reservation.objects.values_list("use", flat=True)) == ["warp", "weft"]
    assert_books_agree()


def test_releasing_against_reserving_leaves_all_or_nothing_reserved():
    shade = make_shade()
    cone = make_cone(shade, grams=5_000)
    project = plan_for(shade)
    reserve_project(pk=project.pk)
    need = mass_needed(project.shades.get(), buffered=True)
    for _ in range(4):
        results = race([partial(act, pk=project.pk) for act in (reserve_project, release_project) * 2])
        assert sorted_out(results, ()) == (4, 0)
        cone.refresh_from_db()
        assert cone.reserved_mg in (0, need)
        assert_books_agree()


def test_a_claim_that_grows_while_it_is_released_loses_no_milligram():
    cones = [make_cone(grams=500) for _ in range(4)]
    claim = ClaimFactory()
    for _ in range(4):
        reserve(claim_id=claim.pk, wanted=[weft(cones[0])])
        calls = [partial(reserve, claim_id=claim.pk, wanted=[weft(cone)]) for cone in cones[1:]]
        results = race([partial(release, claim_id=claim.pk), *calls, partial(release, claim_id=claim.pk)])
        assert sorted_out(results, ()) == (5, 0)
        assert_books_agree()
        release(claim_id=claim.pk)
    assert not Cone.objects.filter(reserved_mg__gt=0).exists()


def test_hands_that_take_the_same_cones_in_opposite_order_do_not_lock_each_other_out():
    cones = [make_cone(grams=500) for _ in range(4)]
    there, back = [weft(cone, 1_000) for cone in cones], [weft(cone, 1_000) for cone in reversed(cones)]
    claims = [ClaimFactory() for _ in range(12)]
    results = race(
        [partial(reserve, claim_id=claim.pk, wanted=(there, back)[at % 2]) for at, claim in enumerate(claims)]
    )
    assert sorted_out(results, ()) == (12, 0)
    assert set(Cone.objects.values_list("reserved_mg", flat=True)) == {12_000}
    assert_books_agree()


def test_weighing_against_reserving_keeps_both():
    by = PersonFactory(username="stock")
    cone = make_cone(grams=500, by=by)
    claims = [ClaimFactory() for _ in range(6)]
    scales = [400_000, 300_000, 200_000]
    results = race(
        [partial(reserve, claim_id=claim.pk, wanted=[weft(cone)]) for claim in claims]
        + [
            partial(weigh, cone_id=cone.pk, scale_mg=scale, gross=False, by=by, reason="scale")
            for scale in scales
        ]
    )
    served, _ = sorted_out(results, NotEnoughFree)
    cone.refresh_from_db()
    assert cone.reserved_mg == (served - len(scales)) * EACH_MG
    assert cone.on_hand_mg in scales
    assert cone.entries.count() == 4
    assert_books_agree()


def test_of_retiring_and_reserving_one_cone_only_one_happens():
    by = PersonFactory(username="stock")
    for _ in range(5):
        cone, claim = make_cone(grams=500, by=by), ClaimFactory()
        retired, reserved = race(
            [
                partial(retire_cone, pk=cone.pk, by=by, reason="sold"),
                partial(reserve, claim_id=claim.pk, wanted=[weft(cone)]),
            ]
        )
        assert sorted_out([retired, reserved], Refusal) == (1, 1)
        cone.refresh_from_db()
        assert bool(cone.retired_at) == (reserved is not None)
        assert (cone.reserved_mg > 0) == (cone.retired_at is None)
        assert_books_agree()


def test_a_cone_that_comes_while_its_shade_is_reserved_disturbs_nothing():
    by = PersonFactory(username="stock")
    shade = make_shade()
    projects = [plan_for(shade, name=f"Mats {number}") for number in range(3)]
    calls = [partial(reserve_project, pk=project.pk) for project in projects]
    calls += [partial(receive_cone, shade=shade, scale_mg=150_000, by=by)] * 5
    assert sorted_out(race(calls), ()) == (8, 0)
    assert_books_agree()
    assert Project.objects.filter(claim=None).count() == 0
