"""Promising yarn once: all or none, by milligram, and given back whole."""

import contextlib

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from stash.models import Claim, Cone, Reservation, Shortage
from stash.services.cones import retire_cone
from stash.services.refusal import NotEnoughFree, Refusal
from stash.services.reserving import Missing, Wanted, lock_holdings, make_claim, release, reserve, take
from stash.services.weighing import weigh
from tests.books import assert_books_agree, told
from tests.factories import ClaimFactory, PersonFactory, make_cone, make_shade

pytestmark = pytest.mark.django_db


def weft(cone: Cone, mass_mg: int) -> Wanted:
    return Wanted(cone.pk, "weft", 0, mass_mg * 6 or 1, mass_mg)


def warp(cone: Cone, ends: int, mass_mg: int) -> Wanted:
    return Wanted(cone.pk, "warp", ends, mass_mg * 6, mass_mg)


def free(*cones: Cone) -> list[int]:
    return [Cone.objects.get(pk=cone.pk).free_mg for cone in cones]


def test_what_is_reserved_is_no_longer_free():
    cone, claim = make_cone(grams=500), ClaimFactory()
    told(reserve, claim_id=claim.pk, wanted=[warp(cone, 20, 200_000), weft(cone, 50_000)])
    assert free(cone) == [250_000]
    assert list(claim.reservations.values_list("use", "ends", "mass_mg")) == [
        ("warp", 20, 200_000),
        ("weft", 0, 50_000),
    ]


def test_the_last_milligram_can_be_had_and_no_more():
    cone = make_cone(grams=500)
    told(reserve, claim_id=ClaimFactory().pk, wanted=[weft(cone, 499_999)])
    told(reserve, claim_id=ClaimFactory().pk, wanted=[weft(cone, 1)])
    with pytest.raises(NotEnoughFree) as refused:
        reserve(claim_id=ClaimFactory().pk, wanted=[weft(cone, 1)])
    assert (refused.value.cone_code, refused.value.asked_mg, refused.value.free_mg) == (cone.code, 1, 0)
    assert "has 0 g free, 0.001 g were asked for" in refused.value.message
    assert_books_agree()


def test_a_refusal_says_both_figures_to_the_milligram():
    assert (
        "has 1,500 g free, 1,500.001 g were asked for" in NotEnoughFree("K-001", 1_500_001, 1_500_000).message
    )
    assert "has 12,345,678 g free" in NotEnoughFree("K-001", 12_345_678_001, 12_345_678_000).message


def test_a_proposal_is_taken_whole_or_not_at_all():
    first, second, claim = make_cone(grams=500), make_cone(grams=100), ClaimFactory()
    with pytest.raises(NotEnoughFree):
        reserve(claim_id=claim.pk, wanted=[weft(first, 400_000), weft(second, 100_001)])
    assert free(first, second) == [500_000, 100_000]
    assert not Reservation.objects.exists()
    assert_books_agree()


def test_warp_and_weft_of_one_cone_count_together():
    cone, claim = make_cone(grams=500), ClaimFactory()
    with pytest.raises(NotEnoughFree) as refused:
        reserve(claim_id=claim.pk, wanted=[warp(cone, 3, 300_000), weft(cone, 200_001)])
    assert (refused.value.asked_mg, refused.value.free_mg) == (200_001, 200_000)
    assert free(cone) == [500_000]


def test_a_retired_cone_has_nothing_free(owner):
    cone = make_cone(grams=500, by=owner)
    retire_cone(pk=cone.pk, by=owner, reason="sold")
    with pytest.raises(NotEnoughFree) as refused:
        reserve(claim_id=ClaimFactory().pk, wanted=[weft(cone, 1)])
    assert refused.value.free_mg == 0
    with pytest.raises(Refusal, match="no such cone"):
        reserve(claim_id=ClaimFactory().pk, wanted=[Wanted(cone.pk + 1, "weft", 0, 1, 1)])


def test_the_same_use_of_a_cone_is_not_added_to_a_claim_twice():
    cone, claim = make_cone(grams=500), ClaimFactory()
    reserve(claim_id=claim.pk, wanted=[weft(cone, 1)])
    with pytest.raises(Refusal, match="Release it first"):
        reserve(claim_id=claim.pk, wanted=[weft(cone, 1)])
    assert_books_agree()


def test_releasing_gives_back_all_of_one_claim_and_nothing_of_another():
    first, second = make_cone(grams=500), make_cone(grams=500)
    mine, theirs = ClaimFactory(), ClaimFactory()
    told(reserve, claim_id=theirs.pk, wanted=[weft(first, 100_000)])
    told(reserve, claim_id=mine.pk, wanted=[warp(first, 2, 7), weft(first, 11), weft(second, 500_000)])
    told(release, claim_id=mine.pk)
    assert free(first, second) == [400_000, 500_000]
    assert list(Reservation.objects.values_list("claim", flat=True)) == [theirs.pk]
    told(release, claim_id=mine.pk)
    assert free(first, second) == [400_000, 500_000]


def test_releasing_forgets_what_was_missing():
    claim, shade = ClaimFactory(), make_shade()
    take(claim_id=claim.pk, wanted=[], missing=[Missing(shade.pk, 3, 300, 50)])
    assert Shortage.objects.get().mass_mg == 50
    told(release, claim_id=claim.pk)
    assert not Shortage.objects.exists()


def test_a_weigh_in_below_the_promise_touches_no_other_cone_and_is_healed_by_releasing(owner):
    cone, other, claim = make_cone(grams=500, by=owner), make_cone(grams=300, by=owner), ClaimFactory()
    told(reserve, claim_id=claim.pk, wanted=[weft(cone, 400_000), weft(other, 100_000)])
    told(weigh, cone_id=cone.pk, scale_mg=100_000, gross=False, by=owner)
    assert free(cone, other) == [0, 200_000]
    with pytest.raises(NotEnoughFree) as refused:
        reserve(claim_id=ClaimFactory().pk, wanted=[weft(cone, 1)])
    assert refused.value.free_mg == 0
    told(release, claim_id=claim.pk)
    assert free(cone, other) == [100_000, 300_000]


def test_an_amount_that_is_nothing_or_less_is_stopped_by_the_database():
    cone, claim = make_cone(grams=500), ClaimFactory()
    for line in (Wanted(cone.pk, "weft", 0, 0, 5), Wanted(cone.pk, "weft", 0, 5, -5)):
        with pytest.raises(IntegrityError), transaction.atomic():
            take(claim_id=claim.pk, wanted=[line])
    assert free(cone) == [500_000]


def test_the_locked_cones_are_the_live_ones_of_the_shades_in_the_order_of_their_keys(owner):
    spruce, rust = make_shade(), make_shade("Rust")
    gone = make_cone(spruce, by=owner)
    retire_cone(pk=gone.pk, by=owner, reason="sold")
    late, cones = make_cone(rust, by=owner), [make_cone(spruce, by=owner) for _ in range(3)]
    claim = ClaimFactory()
    reserve(claim_id=claim.pk, wanted=[weft(late, 5)])
    assert lock_holdings(claim.pk, [spruce.pk]) == cones
    assert lock_holdings(claim.pk, {spruce.pk, rust.pk}) == [late, *cones]


def test_releasing_takes_as_many_queries_for_many_cones_as_for_one():
    claims = [ClaimFactory(), ClaimFactory()]
    cones = [make_cone(grams=500) for _ in range(8)]
    reserve(claim_id=claims[0].pk, wanted=[weft(cones[0], 5)])
    reserve(claim_id=claims[1].pk, wanted=[weft(cone, 5) for cone in cones])
    counts = []
    for claim in claims:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            release(claim_id=claim.pk)
        counts.append(len(queries))
    # savepoint, claim, cones held, cones, give back, reservations, shortages, savepoint
    assert counts[0] == counts[1] <= 10


def test_a_claim_is_checked_when_made():
    assert make_claim(name=" Mats ").name == "Mats"
    with pytest.raises(ValidationError, match="A rank is from 1"):
        make_claim(name="Mats", rank=0)
    assert Claim.objects.count() == 1


class AnyWishes(TestCase):
    @settings(max_examples=15, deadline=None)
    @given(
        grams=st.lists(st.integers(1, 400), min_size=1, max_size=3),
        wishes=st.lists(st.tuples(st.integers(0, 2), st.integers(0, 2), st.integers(1, 500_000)), max_size=6),
    )
    def test_reserving_then_releasing_changes_nothing_and_nothing_is_promised_twice(self, grams, wishes):
        by = PersonFactory(username="stock")
        cones = [make_cone(grams=amount, by=by) for amount in grams]
        claims = [ClaimFactory() for _ in range(3)]
        before = free(*cones)
        for whose, which, mass in wishes:
            with contextlib.suppress(Refusal):
                reserve(claim_id=claims[whose].pk, wanted=[weft(cones[which % len(cones)], mass)])
            assert all(cone.reserved_mg <= cone.on_hand_mg for cone in Cone.objects.all())
            assert_books_agree()
        for claim in claims:
            release(claim_id=claim.pk)
        assert free(*cones) == before
        assert_books_agree()
