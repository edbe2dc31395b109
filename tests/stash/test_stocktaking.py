"""Stocktakes told as stories: counting changes nothing, settling changes the books by the differences accepted."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db.models import Sum
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from stash.models import Cone, Count, CountKey, EntryKind, Finding, Place, Role
from stash.services.cones import bring_back_cone, change_cone, move_cone, retire_cone
from stash.services.refusal import Refusal
from stash.services.reserving import Wanted, reserve
from stash.services.stocktaking import (
    OF_NOISE,
    Figure,
    Taken,
    begin,
    close,
    count,
    is_stale,
    net_now_mg,
    settle,
    settle_noise,
)
from stash.services.weighing import weigh
from tests.books import assert_books_agree, told
from tests.factories import GRAM, ClaimFactory, PersonFactory, make_cone

pytestmark = pytest.mark.django_db

CORE = 30 * GRAM


@pytest.fixture
def shelf(owner):
    """Three cones of 500 g on cores of 30 g, on the north shelf; one on the south shelf."""
    facts = {"scale_mg": 530 * GRAM, "gross": True, "core_mg": CORE, "by": owner}
    cones = [make_cone(place="North shelf", **facts) for _ in range(3)]
    make_cone(place="South shelf", **facts)
    return cones


@pytest.fixture
def stocktake(shelf, owner):
    return begin(place_id=Place.objects.get(name="North shelf").pk, by=owner)


_number = iter(range(10**6))


def key() -> str:
    return f"key-of-a-test-{next(_number):06d}"


def counted(stocktake, cone, grams=None, *, by, age=0, **figure):
    """Count a cone; `grams` are what the scale said."""
    if grams is not None:
        figure["scale_mg"] = grams * GRAM
    return told(
        count,
        stocktake_id=stocktake.pk,
        cone_id=cone.pk,
        key=figure.pop("key", None) or key(),
        figure=Figure(**figure),
        by=by,
        age=timedelta(seconds=age),
    )


def settled(found, *, accept=True, by, **facts):
    return told(settle, count_id=found.pk, accept=accept, by=by, **facts)


def on_hand() -> list[int]:
    return [mg // GRAM for mg in Cone.objects.order_by("pk").values_list("on_hand_mg", flat=True)]


# --- Beginning ----------------------------------------------------------------------------------------------


def test_a_place_without_cones_is_not_counted(owner):
    place = Place.objects.create(name="Loft")
    with pytest.raises(Refusal, match="No cone stands on Loft") as refused:
        begin(place_id=place.pk, by=owner)
    assert refused.value.field == "place"


def test_of_one_place_one_stocktake_is_open_and_of_the_whole_shelf_too(stocktake, owner):
    begin(place_id=None, by=owner)
    for place in (stocktake.place_id, None):
        with pytest.raises(ValidationError, match="open already"):
            begin(place_id=place, by=owner)
    close(pk=stocktake.pk, by=owner)
    assert begin(place_id=stocktake.place_id, by=owner).pk != stocktake.pk


# --- Counting -----------------------------------------------------------------------------------------------


def test_counting_changes_no_books(stocktake, shelf, owner):
    before = on_hand()
    counted(stocktake, shelf[0], 400, by=owner)
    counted(stocktake, shelf[1], by=owner, finding=Finding.ABSENT)
    assert on_hand() == before
    assert all(cone.entries.count() == 1 for cone in shelf)


def test_what_the_scale_says_is_less_its_core_or_the_yarn_alone(stocktake, shelf, owner):
    _, gross = counted(stocktake, shelf[0], 400, by=owner)
    _, net = counted(stocktake, shelf[1], 370, by=owner, gross=False)
    assert gross.net_mg == net.net_mg == 370 * GRAM
    assert (gross.core_mg, net.core_mg) == (CORE, None)


def test_a_count_sent_twice_is_one_count(stocktake, shelf, owner):
    once = key()
    assert counted(stocktake, shelf[0], 400, by=owner, key=once)[0] == Taken.KEPT
    assert counted(stocktake, shelf[0], 400, by=owner, key=once)[0] == Taken.AGAIN
    assert (Count.objects.count(), CountKey.objects.count()) == (1, 1)


def test_a_second_count_takes_the_place_of_the_first_and_both_keys_are_known(stocktake, shelf, owner, helper):
    first, second = key(), key()
    counted(stocktake, shelf[0], 400, by=owner, key=first, age=60)
    taken, found = counted(stocktake, shelf[0], 410, by=helper, key=second)
    assert taken == Taken.REPLACED
    assert (found.scale_mg, found.by) == (410 * GRAM, helper)
    # The first phone has lost the answer, and sends once more: it does not put its older figure back.
    assert counted(stocktake, shelf[0], 400, by=owner, key=first)[0] == Taken.AGAIN
    assert Count.objects.get().scale_mg == 410 * GRAM
    assert CountKey.objects.count() == 2


def test_of_two_phones_the_later_figure_stands_whichever_comes_first(stocktake, shelf, owner, helper):
    """The owner counts without a connection, the helper ten minutes later with one; then the owner's comes."""
    stocktake.began_at -= timedelta(hours=1)
    stocktake.save()
    counted(stocktake, shelf[0], 410, by=helper)
    taken, standing = counted(stocktake, shelf[0], 400, by=owner, age=600)
    assert taken == Taken.OLDER
    assert (standing.scale_mg, standing.by) == (410 * GRAM, helper)


def test_a_count_is_as_old_as_its_page_says_but_no_older_than_the_stocktake(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 400, by=owner, age=10**7)
    assert found.counted_at == stocktake.began_at
    _, found = counted(stocktake, shelf[1], 400, by=owner, age=-60)
    assert found.counted_at <= timezone.now()


def test_the_books_are_those_of_when_it_was_counted(owner):
    """Counted without a connection at noon, woven from and weighed at one; only at two the count comes."""
    now = timezone.now()
    cone = make_cone(grams=500, place="North shelf", by=owner, at=now - timedelta(days=3))
    stocktake = begin(place_id=cone.place_id, by=owner)
    stocktake.began_at = now - timedelta(days=1)
    stocktake.save()
    an_hour_ago = now - timedelta(hours=1)
    told(weigh, cone_id=cone.pk, scale_mg=300 * GRAM, gross=False, by=owner, at=an_hour_ago)
    counted(stocktake, cone, 480, by=owner, gross=False, age=2 * 3600)
    found = Count.objects.with_changes().select_related("cone").get()
    assert found.books_mg == 500 * GRAM
    assert (found.changed_at, found.changed_kind) == (an_hour_ago, EntryKind.WEIGHED)
    assert is_stale(found)


@pytest.mark.parametrize("bad", ["", "short", "k" * 41, "key of sixteen chars", "key-with-ümlauts-in"])
def test_a_key_that_no_page_makes_is_refused(stocktake, shelf, owner, bad):
    with pytest.raises(Refusal) as refused:
        count(stocktake_id=stocktake.pk, cone_id=shelf[0].pk, key=bad, figure=Figure(scale_mg=1), by=owner)
    assert refused.value.field == "key"


def test_a_key_of_another_cone_is_refused(stocktake, shelf, owner):
    once = key()
    counted(stocktake, shelf[0], 400, by=owner, key=once)
    with pytest.raises(Refusal, match="another cone"):
        counted(stocktake, shelf[1], 400, by=owner, key=once)


@pytest.mark.parametrize(
    ("figure", "field"),
    [
        (Figure(), "scale"),
        (Figure(scale_mg=-1), "scale"),
        (Figure(scale_mg=10**12), "scale"),
        (Figure(scale_mg=CORE - 1), "scale"),
        (Figure(finding="passed", scale_mg=1), "scale"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_at_its_field(stocktake, shelf, owner, figure, field):
    with pytest.raises(Refusal) as refused:
        count(stocktake_id=stocktake.pk, cone_id=shelf[0].pk, key=key(), figure=figure, by=owner)
    assert refused.value.field == field
    assert not Count.objects.exists() and not CountKey.objects.exists()


def test_an_unknown_core_is_asked_for_once_and_kept_when_it_is_accepted(owner):
    cone = make_cone(grams=500, place="North shelf", by=owner)
    stocktake = begin(place_id=cone.place_id, by=owner)
    with pytest.raises(Refusal) as refused:
        counted(stocktake, cone, 520, by=owner)
    assert refused.value.field == "core"
    _, found = counted(stocktake, cone, 520, by=owner, core_mg=CORE)
    cone.refresh_from_db()
    assert (found.net_mg, cone.core_mg) == (490 * GRAM, None)
    settled(found, by=owner)
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.core_mg, cone.version) == (490 * GRAM, CORE, 2)
    assert cone.entries.first().gross_mg == 520 * GRAM


def test_a_count_for_a_closed_stocktake_says_when_it_was_closed(stocktake, shelf, owner):
    close(pk=stocktake.pk, by=owner)
    with pytest.raises(Refusal, match="was closed on"):
        counted(stocktake, shelf[0], 400, by=owner)


def test_a_count_of_a_retired_cone_says_so(stocktake, shelf, owner):
    retire_cone(pk=shelf[0].pk, by=owner, reason="empty")
    with pytest.raises(Refusal, match="was retired on"):
        counted(stocktake, shelf[0], 400, by=owner)


def test_a_count_of_what_is_settled_changes_nothing(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 528, by=owner)
    settled(found, by=owner)
    with pytest.raises(Refusal, match="settled already"):
        counted(stocktake, shelf[0], 400, by=owner)


def test_what_is_not_there_any_more_is_said(stocktake, shelf, owner):
    with pytest.raises(Refusal, match="no such stocktake"):
        count(stocktake_id=404, cone_id=shelf[0].pk, key=key(), figure=Figure(scale_mg=1), by=owner)
    with pytest.raises(Refusal, match="no such cone"):
        count(stocktake_id=stocktake.pk, cone_id=404, key=key(), figure=Figure(scale_mg=1), by=owner)
    with pytest.raises(Refusal, match="no such count"):
        settle(count_id=404, accept=True, by=owner)


# --- Settling -----------------------------------------------------------------------------------------------


def test_an_accepted_difference_is_an_entry_of_its_own(stocktake, shelf, owner, helper):
    _, found = counted(stocktake, shelf[0], 430, by=helper, is_estimate=True)
    done, found = settled(found, by=owner, reason=" used ")
    assert done
    cone = Cone.objects.get(pk=shelf[0].pk)
    entry = cone.entries.first()
    assert (entry.kind, entry.change_mg, entry.after_mg) == (EntryKind.COUNTED, -100 * GRAM, 400 * GRAM)
    assert (entry.gross_mg, entry.core_mg, entry.reason, entry.by) == (430 * GRAM, CORE, "used", owner)
    assert entry.is_estimate and cone.estimated
    assert cone.weighed_at == entry.at == found.counted_at
    assert (found.entry, found.settled_by) == (entry, owner)


def test_settled_twice_is_settled_once(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 430, by=owner)
    assert settled(found, by=owner)[0]
    assert not settled(found, by=owner)[0]
    assert not settled(found, accept=False, by=owner, reason="after all")[0]
    assert shelf[0].entries.count() == 2


def test_more_yarn_than_the_books_know_needs_a_reason(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 560, by=owner)
    with pytest.raises(Refusal) as refused:
        settled(found, by=owner, reason="  ")
    assert refused.value.field == "reason"
    settled(found, by=owner, reason="wound back")
    assert on_hand()[0] == 530


def test_a_cone_that_was_not_there_needs_a_reason_and_is_left_with_nothing(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], by=owner, finding=Finding.ABSENT)
    with pytest.raises(Refusal, match="what became of it"):
        settled(found, by=owner)
    settled(found, by=owner, reason="given away")
    entry = shelf[0].entries.first()
    assert (entry.change_mg, entry.gross_mg) == (-500 * GRAM, None)


def test_the_books_are_left_with_a_reason_only(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 430, by=owner)
    with pytest.raises(Refusal) as refused:
        settled(found, accept=False, by=owner)
    assert refused.value.field == "reason"
    _, found = settled(found, accept=False, by=owner, reason="counted wrongly")
    assert (found.entry, found.reason) == (None, "counted wrongly")
    assert on_hand()[0] == 500


def test_a_weighing_after_the_count_makes_it_stale(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 430, by=owner)
    told(weigh, cone_id=shelf[0].pk, scale_mg=400 * GRAM, gross=True, by=owner)
    with pytest.raises(Refusal, match="books changed") as refused:
        settled(found, by=owner, reason="used")
    assert refused.value.field == "confirmed"
    assert on_hand()[0] == 370
    settled(found, by=owner, reason="weighed wrongly", confirmed=True)
    assert on_hand()[0] == 400


def test_the_same_weight_again_makes_a_count_stale_as_well(stocktake, shelf, owner):
    """The ledger says that somebody looked after the count; that the figure is the same is chance."""
    _, found = counted(stocktake, shelf[0], 430, by=owner)
    told(weigh, cone_id=shelf[0].pk, scale_mg=530 * GRAM, gross=True, by=owner)
    with pytest.raises(Refusal, match="books changed"):
        settled(found, by=owner)


def test_a_weighing_told_of_yesterday_makes_a_count_stale_by_its_figure(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 430, by=owner)
    yesterday = timezone.now() - timedelta(days=1)
    told(weigh, cone_id=shelf[0].pk, scale_mg=400 * GRAM, gross=True, by=owner, at=yesterday)
    with pytest.raises(Refusal, match="books changed"):
        settled(found, by=owner)


def test_counted_again_after_the_weighing_it_is_not_stale(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 430, by=owner)
    told(weigh, cone_id=shelf[0].pk, scale_mg=400 * GRAM, gross=True, by=owner)
    counted(stocktake, shelf[0], 399, by=owner)
    settled(found, by=owner)
    assert on_hand()[0] == 369


def test_a_core_put_right_after_the_count_changes_what_the_scale_means(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 530, by=owner)
    cone = Cone.objects.get(pk=shelf[0].pk)
    facts = {"code": cone.code, "lot": "", "form": cone.form, "place": "North shelf", "note": ""}
    told(change_cone, pk=cone.pk, version=cone.version, core_mg=40 * GRAM, by=owner, **facts)
    found = Count.objects.with_changes().select_related("cone").get(pk=found.pk)
    assert net_now_mg(found) == 490 * GRAM
    settled(found, by=owner, confirmed=True)
    assert on_hand()[0] == 490


def test_a_core_heavier_than_the_cone_was_asks_for_another_count(stocktake, owner, shelf):
    cone = make_cone(grams=500, place="North shelf", by=owner, core_mg=CORE)
    _, found = counted(stocktake, cone, 100, by=owner)
    Cone.objects.filter(pk=cone.pk).update(core_mg=101 * GRAM)
    with pytest.raises(Refusal, match="heavier than the whole cone"):
        settled(found, by=owner, reason="used", confirmed=True)


def test_a_cone_retired_meanwhile_can_only_be_left(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 430, by=owner)
    told(retire_cone, pk=shelf[0].pk, by=owner, reason="sold")
    with pytest.raises(Refusal, match="retired by now"):
        settled(found, by=owner, reason="used", confirmed=True)
    settled(found, accept=False, by=owner, reason="sold")
    told(bring_back_cone, pk=shelf[0].pk, by=owner)


def test_an_accepted_difference_may_undercut_what_is_promised(stocktake, shelf, owner):
    told(reserve, claim_id=ClaimFactory().pk, wanted=[Wanted(shelf[0].pk, "weft", 0, 1000, 450 * GRAM)])
    _, found = counted(stocktake, shelf[0], 430, by=owner)
    settled(found, by=owner)
    cone = Cone.objects.get(pk=shelf[0].pk)
    assert (cone.free_mg, cone.undercut_mg) == (0, 50 * GRAM)


def test_all_within_noise_is_accepted_at_once_and_nothing_else(stocktake, shelf, owner):
    """Of 500 g of cotton 10 g are noise: 9 g less is accepted, 10 g less waits, and what is stale waits."""
    for cone, grams in zip(shelf, (521, 520, 530), strict=True):
        counted(stocktake, cone, grams, by=owner)
    told(weigh, cone_id=shelf[2].pk, scale_mg=530 * GRAM, gross=True, by=owner)
    facts = {"stocktake_id": stocktake.pk, "by": owner, "division_mg": GRAM}
    assert told(settle_noise, **facts) == 1
    assert told(settle_noise, **facts) == 0
    assert on_hand()[:3] == [491, 500, 500]
    assert shelf[0].entries.first().reason == OF_NOISE


def test_what_agrees_is_checked_by_an_entry_of_nothing(stocktake, shelf, owner):
    counted(stocktake, shelf[0], 530, by=owner)
    told(settle_noise, stocktake_id=stocktake.pk, by=owner, division_mg=GRAM)
    entry = shelf[0].entries.first()
    assert (entry.kind, entry.change_mg, entry.reason) == (EntryKind.COUNTED, 0, "")


# --- Closing ------------------------------------------------------------------------------------------------


def test_while_counts_wait_it_is_not_closed(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 430, by=owner)
    with pytest.raises(Refusal, match="1 count waits"):
        close(pk=stocktake.pk, by=owner)
    settled(found, by=owner)
    closed = told(close, pk=stocktake.pk, by=owner)
    assert closed.closed_by == owner


def test_closing_writes_down_what_was_not_counted_and_the_report_keeps_its_cones(stocktake, shelf, owner):
    _, found = counted(stocktake, shelf[0], 430, by=owner)
    settled(found, by=owner)
    told(close, pk=stocktake.pk, by=owner)
    passed = stocktake.counts.filter(finding=Finding.PASSED)
    assert [one.cone for one in passed] == shelf[1:]
    move_cone(pk=shelf[1].pk, place="South shelf")
    stocktake.refresh_from_db()
    assert set(stocktake.cones()) == set(shelf)


def test_closed_twice_is_closed_once(stocktake, owner, helper):
    first = close(pk=stocktake.pk, by=owner)
    assert close(pk=stocktake.pk, by=helper).closed_at == first.closed_at
    assert stocktake.counts.count() == 3


def test_a_cone_of_another_place_may_be_counted_where_it_is_found(stocktake, owner, shelf):
    stray = Cone.objects.get(place__name="South shelf")
    counted(stocktake, stray, 530, by=owner)
    assert stray in stocktake.cones()


class AnyRound(TestCase):
    """The law of a stocktake: what was accepted is what the books changed by, whatever was found."""

    @settings(max_examples=10, deadline=None)
    @given(
        st.lists(
            st.tuples(
                st.sampled_from(["scale", "yarn", "absent", "none"]),
                st.integers(30_000, 900_000),
                st.booleans(),
            ),
            min_size=3,
            max_size=3,
        )
    )
    def test_the_sum_of_the_accepted_differences_is_the_change_of_the_books(self, found):
        owner = PersonFactory(username="mara", role=Role.OWNER)
        cones = [
            make_cone(place="Shelf", scale_mg=530 * GRAM, gross=True, core_mg=CORE, by=owner) for _ in found
        ]
        before = Cone.objects.aggregate(sum=Sum("on_hand_mg"))["sum"]
        stocktake = begin(place_id=cones[0].place_id, by=owner)
        expected = 0
        for cone, (how, scale_mg, accept) in zip(cones, found, strict=True):
            if how == "none":
                continue
            figure = (
                Figure(finding=Finding.ABSENT)
                if how == "absent"
                else Figure(scale_mg=scale_mg, gross=how == "scale")
            )
            _, one = count(stocktake_id=stocktake.pk, cone_id=cone.pk, key=key(), figure=figure, by=owner)
            net = 0 if how == "absent" else scale_mg - CORE if how == "scale" else scale_mg
            settle(count_id=one.pk, accept=accept, by=owner, reason="told")
            expected += net - 500 * GRAM if accept else 0
        close(pk=stocktake.pk, by=owner)
        after = Cone.objects.aggregate(sum=Sum("on_hand_mg"))["sum"]
        accepted = stocktake.counts.aggregate(sum=Sum("entry__change_mg"))["sum"] or 0
        assert after - before == accepted == expected
        assert stocktake.counts.count() == len(cones)
        assert_books_agree()
