"""Yarn between two weighings: wound over, split, joined, written off; conditions."""

from datetime import date

import pytest

from stash.calc.quantity import read_amount
from stash.models import Condition, Cone, EntryKind
from stash.services.books import check_books
from stash.services.changing import join, set_condition, split, wind_over, write_off
from stash.services.cones import bring_back_cone, move_cone, retire_cone
from stash.services.refusal import Refusal
from stash.services.reserving import Wanted, reserve
from stash.services.weighing import weigh
from tests.factories import GRAM, ClaimFactory, make_cone, make_shade

pytestmark = pytest.mark.django_db
YARD = 914_400


@pytest.fixture
def pair(owner):
    """K-1 with 250 g and K-2 with 100 g, of one shade and lot."""
    shade = make_shade("Spruce")
    return make_cone(shade, 250, code="K-1", lot="7"), make_cone(shade, 100, code="K-2", lot="7")


def held(cone, grams):
    claim = ClaimFactory(name="Class kits")
    reserve(claim_id=claim.pk, wanted=[Wanted(cone.pk, "weft", 0, 640 * YARD, grams * GRAM)])
    return claim


def on_hand(*cones):
    return [Cone.objects.get(pk=cone.pk).on_hand_mg // GRAM for cone in cones]


def entries_of(cone):
    return [(one.kind, one.change_mg // GRAM, one.reason) for one in cone.entries.order_by("pk")]


def over(source, target, amount, by, **more):
    return wind_over(source_id=source.pk, target_id=target.pk, amount=read_amount(amount), by=by, **more)


def test_winding_over_leaves_an_entry_on_each_cone_that_name_each_other(pair, helper):
    source, target = pair
    taken, given = over(source, target, "50 g", helper, reason="even them out")
    assert on_hand(*pair) == [200, 150]
    assert entries_of(source)[1] == (EntryKind.OVER, -50, "to K-2: even them out")
    assert entries_of(target)[1] == (EntryKind.OVER, 50, "from K-1: even them out")
    assert taken.partner == given and given.partner is None
    assert not Cone.objects.get(pk=source.pk).estimated
    assert [fault.words for fault in check_books() if "guard" not in fault.words] == []


def test_a_length_is_reckoned_and_so_an_estimate(pair, helper):
    # 3,360 yd/lb: 84 yd are a fortieth of a pound, 11.33980925 g.
    over(*pair, "84 yd", helper)
    source, target = (Cone.objects.get(pk=cone.pk) for cone in pair)
    assert (source.on_hand_mg, target.on_hand_mg) == (250_000 - 11_340, 100_000 + 11_340)
    assert source.estimated and target.estimated


@pytest.mark.parametrize(
    ("amount", "says"),
    [
        ("0", "more than nothing"),
        ("251", "holds 250 g, 251 g were asked for"),
        ("200", "70 g are free, 200 g were asked for; the rest is reserved for Class kits"),
    ],
)
def test_no_more_than_is_free_goes_over(pair, helper, amount, says):
    held(pair[0], 180)
    with pytest.raises(Refusal, match=says) as refused:
        over(*pair, amount, helper)
    assert refused.value.field == "amount"
    assert on_hand(*pair) == [250, 100]


def test_shades_and_lots_stay_apart_and_an_unknown_lot_matches_none(pair, helper):
    other_lot = make_cone(pair[0].shade, lot="8", code="K-3")
    unknown = make_cone(pair[0].shade, code="K-4")
    rust = make_cone(make_shade("Rust"), lot="7", code="K-5")
    for target, says in (
        (other_lot, "Two lots stay apart"),
        (unknown, "dye lot of cone K-4 is not known"),
        (rust, "of another shade"),
        (pair[0], "another cone than this one"),
    ):
        with pytest.raises(Refusal, match=says) as refused:
            over(pair[0], target, "5", helper)
        assert refused.value.field == "target"


def test_a_retired_cone_neither_gives_nor_takes(pair, owner):
    retire_cone(pk=pair[1].pk, by=owner, reason="empty")
    for source, target in (pair, reversed(pair)):
        with pytest.raises(Refusal, match="K-2 is retired"):
            over(source, target, "5", owner)
    with pytest.raises(Refusal, match="no such cone"):
        wind_over(source_id=pair[0].pk, target_id=999, amount=read_amount("5"), by=owner)


def test_splitting_makes_a_package_of_the_same_shade_lot_and_condition(pair, helper):
    set_condition(pk=pair[0].pk, condition="faded", on=None, by=helper)
    new = split(source_id=pair[0].pk, amount=read_amount("30 g"), by=helper, core_mg=12_000, place="Loom")
    new.refresh_from_db()
    assert (new.form, new.lot.name, new.place.name, new.condition) == ("spool", "7", "Loom", "faded")
    assert (new.on_hand_mg, new.core_mg, new.weighed_at) == (30_000, 12_000, None)
    assert on_hand(pair[0]) == [220]
    assert entries_of(new) == [(EntryKind.OVER, 30, "from K-1")]


def test_splitting_stays_where_the_cone_stands_unless_told_and_keeps_codes_apart(pair, helper):
    from django.core.exceptions import ValidationError

    move_cone(pk=pair[0].pk, place="B2", by=helper)
    assert split(source_id=pair[0].pk, amount=read_amount("30"), by=helper).place.name == "B2"
    with pytest.raises(ValidationError, match="Another cone has this code"):
        split(source_id=pair[0].pk, amount=read_amount("30"), by=helper, code="k-2")
    assert on_hand(pair[0]) == [220]


def test_joining_empties_one_cone_and_retires_it_by_an_entry(pair, helper):
    join(source_id=pair[1].pk, target_id=pair[0].pk, by=helper)
    assert on_hand(*pair) == [350, 0]
    assert Cone.objects.get(pk=pair[1].pk).retired_at
    assert entries_of(pair[1])[1:] == [
        (EntryKind.OVER, -100, "to K-1"),
        (EntryKind.RETIRED, 0, "joined to K-1"),
    ]
    assert [fault.words for fault in check_books() if "guard" not in fault.words] == []


def test_what_is_reserved_or_empty_is_not_joined(pair, helper, owner):
    claim = held(pair[1], 5)
    with pytest.raises(Refusal, match="reserved for Class kits"):
        join(source_id=pair[1].pk, target_id=pair[0].pk, by=helper)
    from stash.services.reserving import release

    release(claim_id=claim.pk)
    weigh(cone_id=pair[1].pk, scale_mg=0, gross=False, by=helper)
    with pytest.raises(Refusal, match="K-2 is empty"):
        join(source_id=pair[1].pk, target_id=pair[0].pk, by=helper)


def test_writing_off_a_part_needs_a_reason_and_leaves_the_cone(pair, owner):
    with pytest.raises(Refusal, match="Say why") as refused:
        write_off(pk=pair[0].pk, amount=read_amount("20"), reason=" ", by=owner)
    assert refused.value.field == "reason"
    entry = write_off(pk=pair[0].pk, amount=read_amount("20"), reason="moth", by=owner)
    assert (entry.kind, entry.change_mg, entry.reason) == (EntryKind.RETIRED, -20_000, "moth")
    cone = Cone.objects.get(pk=pair[0].pk)
    assert (cone.on_hand_mg, cone.retired_at) == (230_000, None)
    with pytest.raises(Refusal, match="holds 230 g"):
        write_off(pk=pair[0].pk, amount=read_amount("231"), reason="moth", by=owner)


def test_a_condition_has_its_day_and_an_entry_that_changes_no_weight(pair, helper):
    cone = set_condition(
        pk=pair[0].pk, condition="quarantine", on=date(2026, 12, 3), by=helper, reason="moth in the box"
    )
    assert (cone.condition, cone.condition_on) == (Condition.QUARANTINE, date(2026, 12, 3))
    assert entries_of(cone)[1] == (
        EntryKind.STATED,
        0,
        "in quarantine until 3 December 2026: moth in the box",
    )
    assert cone not in Cone.objects.usable()
    back = set_condition(pk=cone.pk, condition="sound", on=None, by=helper)
    assert back in Cone.objects.usable()
    with pytest.raises(Refusal, match="So it stands already"):
        set_condition(pk=cone.pk, condition="sound", on=None, by=helper)
    with pytest.raises(Refusal, match="from the list"):
        set_condition(pk=cone.pk, condition="shabby", on=None, by=helper)


def test_a_reserved_cone_is_no_oddment_but_may_turn_out_weak(pair, helper):
    held(pair[0], 5)
    with pytest.raises(Refusal, match="reserved for Class kits"):
        set_condition(pk=pair[0].pk, condition="oddment", on=None, by=helper)
    assert set_condition(pk=pair[0].pk, condition="weak", on=None, by=helper).condition == "weak"


def test_a_move_is_noted_by_whom_and_once(pair, helper):
    move_cone(pk=pair[0].pk, place="Box 9", by=helper)
    move_cone(pk=pair[0].pk, place="box 9", by=helper)
    move_cone(pk=pair[0].pk, place="", by=helper)
    assert entries_of(pair[0])[1:] == [
        (EntryKind.MOVED, 0, "to Box 9"),
        (EntryKind.MOVED, 0, "taken from its place"),
    ]


def test_a_retired_cone_that_is_moved_still_comes_back_with_its_weight(pair, owner):
    retire_cone(pk=pair[0].pk, by=owner, reason="lost")
    move_cone(pk=pair[0].pk, place="Attic", by=owner)
    assert bring_back_cone(pk=pair[0].pk, by=owner).on_hand_mg == 250_000
