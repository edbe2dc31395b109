"""Two windows write the same thing at once: one is served, the other is told in words, nobody sees an error."""

from functools import partial

import pytest
from django.core.exceptions import ValidationError

from projects.models import Project
from stash.calc.quantity import Amount
from stash.models import Cone, EntryKind, Lot, Person, Place, Role, Shade, Studio, Yarn
from stash.services.changing import wind_over
from stash.services.cones import bring_back_cone, change_cone, retire_cone
from stash.services.people import add_person, change_person
from stash.services.receiving import receive_cone, receive_cone_of
from stash.services.refusal import ChangedMeanwhile, Refusal
from stash.services.studio import found_studio
from stash.services.undoing import take_back
from stash.services.weighing import weigh
from stash.services.yarns import retire_shade, retire_yarn, save_shade
from tests.books import assert_books_agree
from tests.concurrency.racing import race, sorted_out
from tests.factories import GRAM, PersonFactory, make_cone, make_shade, make_yarn
from tests.projects.plans import plan_for

pytestmark = pytest.mark.django_db(transaction=True)

WORD = "spindle-and-whorl"


@pytest.fixture
def by() -> Person:
    return PersonFactory(username="stock")


def test_of_several_foundings_at_once_one_counts():
    calls = [
        partial(
            found_studio,
            name=f"Studio {number}",
            measuring="metric",
            spelling="british",
            username=f"owner{number}",
            owner_name="",
            password=WORD,
        )
        for number in range(4)
    ]
    results = race(calls)
    assert sorted_out(results, Refusal) == (1, 3)
    (owner,) = [one for one in results if isinstance(one, Person)]
    assert Person.objects.get() == owner
    assert Studio.objects.get().name == f"Studio {owner.username[-1]}"


def test_two_owners_who_demote_each_other_leave_one():
    for _ in range(4):
        Person.objects.all().delete()
        first, second = (PersonFactory(username=name, role=Role.OWNER) for name in ("mara", "jon"))
        results = race(
            [
                partial(change_person, pk=one.pk, name="", role=Role.HELPER, is_active=True)
                for one in (first, second)
            ]
        )
        assert sorted_out(results, Refusal) == (1, 1)
        assert Person.objects.filter(role=Role.OWNER, is_active=True).count() == 1


def test_one_sign_in_name_given_twice_at_once_goes_to_one():
    results = race(
        [
            partial(add_person, username=name, name="", role=Role.HELPER, password=WORD)
            for name in ("ines", "INES", "ines", "Ines")
        ]
    )
    assert sorted_out(results, ValidationError) == (1, 3)
    assert Person.objects.count() == 1


def test_cones_added_at_once_each_get_a_code_of_their_own(by):
    """Of twelve shades, so that no lock on a shade makes them wait for each other."""
    shades = [make_shade(f"Shade {number}") for number in range(12)]
    calls = [
        partial(receive_cone, shade=shade, scale_mg=100_000, by=by, lot="A1", place="Shelf")
        for shade in shades
    ]
    assert sorted_out(race(calls), ()) == (12, 0)
    assert sorted(Cone.objects.values_list("code", flat=True)) == [f"K-{n:03}" for n in range(1, 13)]
    assert Place.objects.count() == 1
    assert_books_agree()


def test_cones_of_one_lot_added_at_once_make_the_lot_once(by):
    shade = make_shade()
    calls = [partial(receive_cone, shade=shade, scale_mg=100_000, by=by, lot="A1") for _ in range(6)]
    assert sorted_out(race(calls), ()) == (6, 0)
    assert Lot.objects.count() == 1


def test_one_typed_code_at_once_goes_to_one_cone(by):
    shade = make_shade()
    calls = [partial(receive_cone, shade=shade, scale_mg=100_000, by=by, code="Tall") for _ in range(4)]
    assert sorted_out(race(calls), ValidationError) == (1, 3)
    assert_books_agree()


def test_cones_of_a_new_shade_added_at_once_make_the_shade_once(by):
    yarn = make_yarn()
    calls = [
        partial(receive_cone_of, yarn_id=yarn.pk, shade=name, scale_mg=100_000, by=by)
        for name in ("Spruce", "spruce", "SPRUCE", "Spruce")
    ]
    assert sorted_out(race(calls), ()) == (4, 0)
    assert Shade.objects.count() == 1


@pytest.mark.parametrize("what", ["yarn", "shade", "project"])
def test_one_name_at_once_goes_to_one(what):
    shade = make_shade()
    call = {
        "yarn": partial(make_yarn, "Weir linen", count="16/2", system="lea"),
        "shade": partial(save_shade, yarn_id=shade.yarn_id, name="Rust"),
        "project": partial(plan_for, shade, name="Weir mats"),
    }[what]
    assert sorted_out(race([call] * 5), (Refusal, ValidationError)) == (1, 4)
    assert (Yarn.objects.count(), Shade.objects.count(), Project.objects.count()) == {
        "yarn": (2, 1, 0),
        "shade": (1, 2, 0),
        "project": (1, 1, 1),
    }[what]


def test_of_two_forms_opened_together_the_second_save_is_refused(by):
    cone = make_cone(by=by)
    calls = [
        partial(
            change_cone,
            pk=cone.pk,
            version=1,
            code=cone.code,
            lot="",
            form="cone",
            core_mg=None,
            place="",
            note=f"note {number}",
            by=by,
        )
        for number in range(4)
    ]
    results = race(calls)
    assert sorted_out(results, ChangedMeanwhile) == (1, 3)
    (served,) = [one for one in results if isinstance(one, Cone)]
    assert Cone.objects.get().note == served.note


def test_weighings_at_once_follow_each_other_in_the_ledger(by):
    cone = make_cone(scale_mg=600_000, gross=True, core_mg=60_000, by=by)
    scales = [500_000, 400_000, 300_000, 200_000, 100_000, 60_000]
    calls = [
        partial(weigh, cone_id=cone.pk, scale_mg=scale, gross=True, by=by, reason="scale") for scale in scales
    ]
    assert sorted_out(race(calls), ()) == (6, 0)
    assert cone.entries.count() == 7
    assert Cone.objects.get().on_hand_mg == cone.entries.first().after_mg
    assert_books_agree()


def test_a_shade_is_not_retired_while_a_cone_of_it_comes(by):
    for number in range(5):
        shade = make_shade(f"Shade {number}")
        retired, received = race(
            [
                partial(retire_shade, pk=shade.pk),
                partial(receive_cone, shade=shade, scale_mg=100_000, by=by),
            ]
        )
        assert sorted_out([retired, received], Refusal) == (1, 1)
        shade.refresh_from_db()
        assert bool(shade.retired_at) == isinstance(received, Refusal) == (not shade.cones.exists())


def test_a_yarn_is_not_retired_while_a_shade_of_it_comes():
    for number in range(5):
        yarn = make_yarn(f"Yarn {number}")
        retired, made = race(
            [partial(retire_yarn, pk=yarn.pk), partial(save_shade, yarn_id=yarn.pk, name="Spruce")]
        )
        assert sorted_out([retired, made], Refusal) == (1, 1)
        assert yarn.shades.exists() == isinstance(retired, Refusal)


def test_a_cone_that_comes_back_while_its_shade_is_brought_in_and_out_keeps_the_order(by):
    for number in range(5):
        shade = make_shade(f"Shade {number}")
        cone = make_cone(shade, by=by)
        retire_cone(pk=cone.pk, by=by, reason="sold")
        results = race([partial(retire_shade, pk=shade.pk), partial(bring_back_cone, pk=cone.pk, by=by)])
        assert sorted_out(results, Refusal) == (1, 1)
        live = Cone.objects.live().filter(shade=shade).exists()
        assert live == (Shade.objects.get(pk=shade.pk).retired_at is None)
        assert_books_agree()


def test_an_entry_taken_back_many_times_at_once_is_taken_back_once(by):
    cone = make_cone(grams=500, by=by)
    entry = weigh(cone_id=cone.pk, scale_mg=300 * GRAM, gross=False, by=by)
    results = race([partial(take_back, entry_id=entry.pk, by=by)] * 6)
    assert sorted_out(results, Refusal) == (1, 5)
    assert {one.message for one in results if isinstance(one, Refusal)} == {
        "This entry was taken back already."
    }
    cone.refresh_from_db()
    assert (cone.on_hand_mg, cone.entries.filter(kind=EntryKind.UNDONE).count()) == (500 * GRAM, 1)
    assert_books_agree()


def test_yarn_wound_over_and_taken_back_from_both_cones_at_once_comes_back_once(by):
    first, second = (make_cone(grams=grams, by=by, lot="7") for grams in (300, 100))
    for _ in range(4):
        pair = wind_over(source_id=first.pk, target_id=second.pk, amount=Amount("mass", 50 * GRAM), by=by)
        results = race([partial(take_back, entry_id=entry.pk, by=by) for entry in pair])
        assert sorted_out(results, Refusal) == (1, 1)
        assert [Cone.objects.get(pk=cone.pk).on_hand_mg for cone in (first, second)] == [
            300 * GRAM,
            100 * GRAM,
        ]
    assert_books_agree()
