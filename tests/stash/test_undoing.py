"""Taking back: a counter-entry, once, of what still stands last."""

import pytest
from django.db import IntegrityError, transaction

from stash.calc.quantity import read_amount
from stash.models import Cone, Entry, EntryKind
from stash.services.books import check_books
from stash.services.changing import join, set_condition, split, wind_over, write_off
from stash.services.cones import change_cone, move_cone, retire_cone
from stash.services.refusal import Refusal
from stash.services.reserving import Wanted, reserve
from stash.services.undoing import latest, take_back
from stash.services.weighing import weigh
from tests.factories import GRAM, ClaimFactory, make_cone, make_shade

pytestmark = pytest.mark.django_db


@pytest.fixture
def pair(owner):
    shade = make_shade("Spruce")
    return make_cone(shade, 250, code="K-1", lot="7"), make_cone(shade, 100, code="K-2", lot="7")


def fresh(cone):
    return Cone.objects.get(pk=cone.pk)


def scale(cone, grams, by, **more):
    return weigh(cone_id=cone.pk, scale_mg=grams * GRAM, gross=False, by=by, **more)


def books_agree():
    return [fault.words for fault in check_books() if "guard" not in fault.words] == []


def test_a_weighing_is_taken_back_by_a_counter_entry(pair, helper):
    entry = scale(pair[0], 25, helper)
    back = take_back(entry_id=entry.pk, by=helper)
    assert (back.kind, back.change_mg, back.after_mg, back.undoes) == (
        EntryKind.UNDONE,
        225_000,
        250_000,
        entry,
    )
    assert back.by == helper and back.reason.startswith("weighed on ") and back.reason.endswith("taken back")
    cone = fresh(pair[0])
    assert (cone.on_hand_mg, cone.is_unweighed) == (250_000, True)
    assert books_agree()


def test_only_once(pair, helper):
    entry = scale(pair[0], 25, helper)
    back = take_back(entry_id=entry.pk, by=helper)
    with pytest.raises(Refusal, match="taken back already"):
        take_back(entry_id=entry.pk, by=helper)
    with pytest.raises(Refusal, match="takes another back"):
        take_back(entry_id=back.pk, by=helper)
    with pytest.raises(IntegrityError), transaction.atomic():
        Entry.objects.bulk_create(
            [
                Entry(
                    cone=pair[0], kind="undone", change_mg=1, after_mg=1, by=helper, at=entry.at, undoes=entry
                )
            ]
        )
    assert fresh(pair[0]).on_hand_mg == 250_000


def test_the_later_first_then_the_earlier(pair, helper):
    first, second = scale(pair[0], 200, helper), scale(pair[0], 150, helper, is_estimate=True)
    assert fresh(pair[0]).estimated
    with pytest.raises(Refusal, match="K-1 was changed again since"):
        take_back(entry_id=first.pk, by=helper)
    take_back(entry_id=second.pk, by=helper)
    cone = fresh(pair[0])
    assert (cone.on_hand_mg, cone.estimated, cone.weighed_at) == (200_000, False, first.at)
    take_back(entry_id=first.pk, by=helper)
    assert fresh(pair[0]).on_hand_mg == 250_000
    assert latest(pair[0]).kind == EntryKind.RECEIVED
    assert books_agree()


def test_notes_of_place_and_condition_do_not_stand_in_the_way(pair, helper):
    entry = scale(pair[0], 200, helper)
    move_cone(pk=pair[0].pk, place="B2", by=helper)
    set_condition(pk=pair[0].pk, condition="weak", on=None, by=helper)
    take_back(entry_id=entry.pk, by=helper)
    assert fresh(pair[0]).on_hand_mg == 250_000


def test_the_first_entry_stays(pair, owner):
    with pytest.raises(Refusal, match="first entry of this cone"):
        take_back(entry_id=pair[0].entries.get().pk, by=owner)
    with pytest.raises(Refusal, match="no such entry"):
        take_back(entry_id=99_999, by=owner)


@pytest.mark.parametrize("half", [0, 1])
def test_winding_over_comes_back_on_both_sides_whichever_is_named(pair, helper, half):
    both = wind_over(source_id=pair[0].pk, target_id=pair[1].pk, amount=read_amount("50"), by=helper)
    take_back(entry_id=both[half].pk, by=helper)
    assert [fresh(cone).on_hand_mg for cone in pair] == [250_000, 100_000]
    assert Entry.objects.filter(kind=EntryKind.UNDONE).count() == 2
    assert books_agree()


def test_winding_over_stays_once_either_cone_was_changed_again(pair, helper):
    taken, given = wind_over(source_id=pair[0].pk, target_id=pair[1].pk, amount=read_amount("50"), by=helper)
    scale(pair[1], 140, helper)
    for entry in (taken, given):
        with pytest.raises(Refusal, match="K-2 was changed again since"):
            take_back(entry_id=entry.pk, by=helper)


def test_what_was_wound_over_and_then_reserved_stays(pair, helper):
    taken, _ = wind_over(source_id=pair[0].pk, target_id=pair[1].pk, amount=read_amount("50"), by=helper)
    reserve(claim_id=ClaimFactory().pk, wanted=[Wanted(pair[1].pk, "weft", 0, 1000, 120_000)])
    with pytest.raises(Refusal, match="K-2 is reserved meanwhile"):
        take_back(entry_id=taken.pk, by=helper)


def test_a_join_comes_back_whole_and_the_emptied_cone_to_the_shelf(pair, helper, owner):
    join(source_id=pair[1].pk, target_id=pair[0].pk, by=helper)
    with pytest.raises(Refusal, match="Bring it back"):
        take_back(entry_id=latest(pair[1]).pk, by=owner)
    take_back(entry_id=latest(pair[0]).pk, by=helper)
    source = fresh(pair[1])
    assert (fresh(pair[0]).on_hand_mg, source.on_hand_mg, source.retired_at) == (250_000, 100_000, None)
    assert books_agree()


def test_a_split_that_is_taken_back_leaves_no_empty_package_on_the_shelf(pair, helper):
    new = split(source_id=pair[0].pk, amount=read_amount("30"), by=helper)
    take_back(entry_id=latest(pair[0]).pk, by=helper)
    new = fresh(new)
    assert (fresh(pair[0]).on_hand_mg, new.on_hand_mg) == (250_000, 0)
    assert new.retired_at
    assert books_agree()


def test_only_an_owner_takes_back_what_only_an_owner_writes(pair, helper, owner):
    entry = write_off(pk=pair[0].pk, amount=read_amount("20"), reason="moth", by=owner)
    with pytest.raises(Refusal, match="Only an owner"):
        take_back(entry_id=entry.pk, by=helper)
    take_back(entry_id=entry.pk, by=owner)
    assert fresh(pair[0]).on_hand_mg == 250_000


def test_a_retired_cone_is_brought_back_not_taken_back(pair, owner):
    retire_cone(pk=pair[0].pk, by=owner, reason="empty")
    with pytest.raises(Refusal, match="Bring it back"):
        take_back(entry_id=latest(pair[0]).pk, by=owner)


def test_a_core_put_right_by_mistake_is_as_before(owner):
    cone = make_cone(make_shade(), scale_mg=284 * GRAM, gross=True, core_mg=34 * GRAM, code="K-3")
    facts = {"code": "K-3", "lot": "", "form": "cone", "place": "", "note": "", "by": owner}
    change_cone(pk=cone.pk, version=1, core_mg=44 * GRAM, **facts)
    assert fresh(cone).on_hand_mg == 240_000
    take_back(entry_id=latest(cone).pk, by=owner)
    cone = fresh(cone)
    assert (cone.on_hand_mg, cone.core_mg) == (250_000, 34_000)
    change_cone(pk=cone.pk, version=cone.version, core_mg=40 * GRAM, **facts)
    assert fresh(cone).on_hand_mg == 244_000
