"""One use counted once: planned, wound, weighed, told as a worked example."""

import pytest

from stash.models import Cone, EntryKind, Reservation
from stash.services.books import check_books
from stash.services.refusal import Refusal
from stash.services.reserving import Wanted, reserve
from stash.services.undoing import latest, take_back
from stash.services.using import Back, is_begun, take_as_wound, used_mg, weigh_back
from stash.services.weighing import weigh
from tests.factories import GRAM, ClaimFactory, make_cone, make_shade

pytestmark = pytest.mark.django_db
YARD = 914_400


@pytest.fixture
def cone(owner):
    """500 g of yarn on a core of 34 g."""
    return make_cone(make_shade(), scale_mg=534 * GRAM, gross=True, core_mg=34 * GRAM, code="K-1")


@pytest.fixture
def claim(cone):
    """100 g of warp in 64 ends and 60 g of weft, for the mats."""
    claim = ClaimFactory(name="Mats")
    reserve(
        claim_id=claim.pk,
        wanted=[
            Wanted(cone.pk, "warp", 64, 640 * YARD, 100 * GRAM),
            Wanted(cone.pk, "weft", 0, 384 * YARD, 60 * GRAM),
        ],
    )
    return claim


def figures(cone):
    """Grams on hand, reserved, free."""
    cone = Cone.objects.get(pk=cone.pk)
    return [mg // GRAM for mg in (cone.on_hand_mg, cone.reserved_mg, cone.free_mg)]


def test_planned_wound_and_weighed_replace_each_other(cone, claim, helper):
    # Planned: 160 g are kept free of others, nothing is used.
    assert figures(cone) == [500, 160, 340]
    assert used_mg(claim_id=claim.pk) == {} and not is_begun(claim_id=claim.pk)

    # Wound: the warp's 100 g leave the shelf and the reservation at once; free is as before.
    (entry,) = take_as_wound(claim_id=claim.pk, by=helper)
    assert (entry.kind, entry.change_mg, entry.claim) == (EntryKind.WOUND, -100_000, claim)
    assert entry.reason == "warp of Mats, 64 ends" and entry.is_estimate
    assert figures(cone) == [400, 60, 340]
    assert used_mg(claim_id=claim.pk) == {cone.pk: 100_000}
    assert Cone.objects.get(pk=cone.pk).estimated

    # Weighed back with 347 g: only what is beyond the warp is entered, and the weft's reservation goes.
    (entry,) = weigh_back(claim_id=claim.pk, backs={cone.pk: Back(381 * GRAM, gross=True)}, by=helper)
    assert (entry.kind, entry.change_mg, entry.gross_mg) == (EntryKind.WEIGHED, -53_000, 381_000)
    assert figures(cone) == [347, 0, 347]
    assert used_mg(claim_id=claim.pk) == {cone.pk: 153_000}
    assert not Cone.objects.get(pk=cone.pk).estimated
    assert [fault.words for fault in check_books() if "guard" not in fault.words] == []


def test_weighed_back_without_marking_the_warp_counts_the_same(cone, claim, helper):
    weigh_back(claim_id=claim.pk, backs={cone.pk: Back(347 * GRAM, gross=False)}, by=helper)
    assert figures(cone) == [347, 0, 347]
    assert used_mg(claim_id=claim.pk) == {cone.pk: 153_000}
    with pytest.raises(Refusal, match="No warp is reserved"):
        take_as_wound(claim_id=claim.pk, by=helper)


def test_sent_twice_each_step_counts_once(cone, claim, helper):
    take_as_wound(claim_id=claim.pk, by=helper)
    with pytest.raises(Refusal, match="No warp is reserved"):
        take_as_wound(claim_id=claim.pk, by=helper)
    for _ in range(2):
        weigh_back(claim_id=claim.pk, backs={cone.pk: Back(347 * GRAM, gross=False)}, by=helper)
    assert used_mg(claim_id=claim.pk) == {cone.pk: 153_000}
    assert figures(cone) == [347, 0, 347]


def test_a_warp_that_took_less_than_planned_gives_back(cone, claim, helper):
    take_as_wound(claim_id=claim.pk, by=helper)
    weigh_back(claim_id=claim.pk, backs={cone.pk: Back(410 * GRAM, gross=False)}, by=helper)
    assert used_mg(claim_id=claim.pk) == {cone.pk: 90_000}


def test_what_was_taken_back_is_not_used(cone, claim, helper):
    take_as_wound(claim_id=claim.pk, by=helper)
    take_back(entry_id=latest(cone).pk, by=helper)
    assert used_mg(claim_id=claim.pk) == {cone.pk: 0}
    assert not is_begun(claim_id=claim.pk)
    assert figures(cone) == [500, 60, 440]


def test_a_cone_that_holds_too_little_stops_the_marking_as_a_whole(cone, claim, helper):
    other = make_cone(cone.shade, 50, code="K-2")
    reserve(claim_id=claim.pk, wanted=[Wanted(other.pk, "warp", 5, 50 * YARD, 10 * GRAM)])
    weigh(cone_id=cone.pk, scale_mg=90 * GRAM, gross=False, by=helper)
    with pytest.raises(Refusal, match="K-1 holds less than was reserved"):
        take_as_wound(claim_id=claim.pk, by=helper)
    assert Reservation.objects.filter(claim=claim, use="warp").count() == 2
    assert used_mg(claim_id=claim.pk) == {}


def test_weighing_back_refuses_what_cannot_be_and_keeps_nothing(cone, claim, helper):
    strange = make_cone(cone.shade, 50, code="K-9")
    for backs, says, field in (
        ({}, "one cone at least", ""),
        ({strange.pk: Back(5, gross=False)}, "K-9 gave nothing", f"cone-{strange.pk}"),
        ({cone.pk: Back(33 * GRAM, gross=True)}, "less than the core alone", f"cone-{cone.pk}"),
        ({cone.pk: Back(501 * GRAM, gross=False)}, "more yarn than was on the cone", f"cone-{cone.pk}"),
        ({cone.pk: Back(-1, gross=False)}, "below 0", f"cone-{cone.pk}"),
    ):
        with pytest.raises(Refusal, match=says) as refused:
            weigh_back(claim_id=claim.pk, backs=backs, by=helper)
        assert refused.value.field == field
    assert figures(cone) == [500, 160, 340]


def test_others_keep_what_is_reserved_for_them(cone, claim, helper):
    other = ClaimFactory(name="Shawl")
    reserve(claim_id=other.pk, wanted=[Wanted(cone.pk, "warp", 9, 90 * YARD, 40 * GRAM)])
    take_as_wound(claim_id=claim.pk, by=helper)
    weigh_back(claim_id=claim.pk, backs={cone.pk: Back(347 * GRAM, gross=False)}, by=helper)
    assert figures(cone) == [347, 40, 307]
    assert Reservation.objects.get().claim == other
