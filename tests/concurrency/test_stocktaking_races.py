"""Two phones, two windows, one stocktake: a count sent by many at once is one count, a difference is accepted once."""

from functools import partial

import pytest
from django.core.exceptions import ValidationError

from stash.models import Cone, Count, CountKey, EntryKind, Person, Stocktake
from stash.services.refusal import Refusal
from stash.services.stocktaking import Figure, Taken, begin, close, count, settle, settle_noise
from stash.services.weighing import weigh
from tests.books import assert_books_agree
from tests.concurrency.racing import race, sorted_out
from tests.factories import GRAM, PersonFactory, make_cone

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def by() -> Person:
    return PersonFactory(username="stock")


@pytest.fixture
def cones(by) -> list[Cone]:
    return [make_cone(grams=500, place="Shelf", by=by) for _ in range(6)]


@pytest.fixture
def stocktake(cones, by) -> Stocktake:
    return begin(place_id=cones[0].place_id, by=by)


def counting(stocktake, cone, by, *, key="a-key-of-the-race", grams=400):
    figure = Figure(scale_mg=grams * GRAM, gross=False)
    return partial(count, stocktake_id=stocktake.pk, cone_id=cone.pk, key=key, figure=figure, by=by)


def test_one_count_sent_many_times_at_once_is_taken_once(stocktake, cones, by):
    results = race([counting(stocktake, cones[0], by)] * 8)
    assert sorted_out(results, ()) == (8, 0)
    assert sorted(str(taken) for taken, _ in results) == [*["again"] * 7, "kept"]
    assert (Count.objects.count(), CountKey.objects.count()) == (1, 1)


def test_two_phones_that_count_one_cone_at_once_leave_one_count_and_both_keys(stocktake, cones, by):
    calls = [
        counting(stocktake, cones[0], by, key=f"a-key-of-phone-{number}", grams=400 + number)
        for number in range(6)
    ]
    taken = [outcome for outcome, _ in race(calls)]
    assert taken.count(Taken.KEPT) == 1
    assert (Count.objects.count(), CountKey.objects.count()) == (1, 6)


def test_a_difference_accepted_many_times_at_once_is_one_entry(stocktake, cones, by):
    _, found = counting(stocktake, cones[0], by)()
    results = race([partial(settle, count_id=found.pk, accept=True, by=by)] * 8)
    assert sorted_out(results, ()) == (8, 0)
    assert sum(done for done, _ in results) == 1
    assert cones[0].entries.filter(kind=EntryKind.COUNTED).count() == 1
    assert_books_agree()


def test_all_within_noise_accepted_twice_at_once_is_accepted_once(stocktake, cones, by):
    for number, cone in enumerate(cones):
        counting(stocktake, cone, by, key=f"a-key-of-cone-{number:02}", grams=498)()
    done = race([partial(settle_noise, stocktake_id=stocktake.pk, by=by, division_mg=GRAM)] * 4)
    assert sorted_out(done, ()) == (4, 0)
    assert sum(done) == len(cones)
    assert_books_agree()


def test_a_weighing_and_an_acceptance_at_once_never_lose_one_unseen(stocktake, cones, by):
    """Either the weighing came first and the count is refused as stale, or it comes after and is what counts."""
    for number, cone in enumerate(cones):
        _, found = counting(stocktake, cone, by, key=f"a-key-of-cone-{number:02}")()
        results = race(
            [
                partial(settle, count_id=found.pk, accept=True, by=by),
                partial(weigh, cone_id=cone.pk, scale_mg=300 * GRAM, gross=False, by=by),
            ]
        )
        served, refused = sorted_out(results, Refusal)
        assert (served, refused) in ((2, 0), (1, 1))
        assert Cone.objects.get(pk=cone.pk).on_hand_mg == 300 * GRAM
    assert_books_agree()


def test_a_count_and_a_closing_at_once_leave_no_count_that_waits(stocktake, cones, by):
    """The closing writes down as not counted what was not; a count is in before it, or refused."""
    results = race([counting(stocktake, cones[0], by), partial(close, pk=stocktake.pk, by=by)])
    served, refused = sorted_out(results, Refusal)
    assert (served, refused) == (1, 1)
    stocktake.refresh_from_db()
    if stocktake.closed_at:
        assert stocktake.counts.count() == len(cones)
    assert not stocktake.closed_at or not stocktake.counts.unsettled().exists()


def test_one_place_begun_twice_at_once_is_open_once(cones, by):
    for place_id in (cones[0].place_id, None):
        results = race([partial(begin, place_id=place_id, by=by)] * 4)
        assert sorted_out(results, (Refusal, ValidationError)) == (1, 3)
    assert Stocktake.objects.open().count() == 2
