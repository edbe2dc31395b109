"""Accents: read, placed instead of ends or in addition, what they do to the shafts, and again in the weft."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.accents import Accent, check_accents, place_accents, read_accents, write_accents
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.needs import work_out
from tests.calc.plans import IN, a_plan

pytestmark = pytest.mark.once

accents = st.lists(
    st.builds(Accent, st.integers(1, 9), st.sampled_from(["R", "S", "RS"]), st.none() | st.integers(0, 40)),
    max_size=4,
).map(tuple)


def keys(plan):
    return "".join(work_out(plan).warp_order.sequence())


def an_order(line, **changes):
    return a_plan(order=read_order(line), order_fills=False, **changes)


def test_a_line_of_accents_is_read():
    assert read_accents("1 R at 33, 2 s after 60,1 R in the middle") == (
        Accent(1, "R", 32),
        Accent(2, "S", 60),
        Accent(1, "R", None),
    )
    assert read_accents("  ") == ()


@given(accents)
def test_what_is_written_is_read_again(found):
    assert read_accents(write_accents(found)) == found


@pytest.mark.parametrize(
    ("text", "position"),
    [
        ("1 R", 1),
        ("R at 3", 1),
        ("1 R at 3; 1 R at 4", 9),
        ("1 R at 3,, 1 R at 4", 10),
        ("1 R at 0", 8),
        ("0 R at 3", 1),
        ("1 R at 3, ", 11),
        ("1 R at 3 " * 70, 501),
    ],
)
def test_what_cannot_be_read_says_at_which_character(text, position):
    with pytest.raises(CalcError) as refused:
        read_accents(text)
    assert refused.value.position == position


def test_an_accent_instead_of_an_end_leaves_the_others_where_they_are():
    plan = an_order("4 times (1 A, 1 B)", accents=read_accents("1 R at 4, 2 S at 7"))
    assert keys(plan) == "ABARABSS"
    worked = work_out(plan)
    assert [placed.effect for placed in worked.layout.accents] == ["none", "none"]
    assert [placed.at for placed in worked.layout.accents] == [3, 6]
    assert worked.width.ends == 8


def test_an_added_accent_moves_every_later_end_on_and_makes_the_piece_wider():
    """A B A B | R | A B A B: A falls on the other shaft, the block flips (common practice)."""
    plan = an_order("4 times (1 A, 1 B)", accents=read_accents("1 R after 4"), accent_way="added")
    assert keys(plan) == "ABABRABAB"
    worked = work_out(plan)
    assert worked.layout.accents[0].effect == "flips"
    assert (worked.width.ends, worked.width.in_reed_um) == (9, Fraction(9 * IN, 12))


def test_an_accent_between_two_like_ends_takes_their_flip_away():
    """A B A | R | A B A: no flip, the picture is mirrored around the accent (common practice)."""
    plan = an_order("1 A, 1 B, 2 A, 1 B, 1 A", accents=read_accents("1 R after 3"), accent_way="added")
    assert keys(plan) == "ABARABA"
    assert work_out(plan).layout.accents[0].effect == "mirrors"


@pytest.mark.parametrize("line", ["2 R after 4", "1 R after 0", "1 R after 8"])
def test_an_even_number_added_or_one_at_an_edge_flips_nothing(line):
    plan = an_order("4 times (1 A, 1 B)", accents=read_accents(line), accent_way="added")
    assert [placed.effect for placed in work_out(plan).layout.accents] == ["none"]


def test_the_middle_is_found_whatever_the_number_of_ends():
    assert keys(an_order("7 A", accents=read_accents("1 R in the middle"))) == "AAARAAA"
    assert keys(an_order("6 A", accents=read_accents("1 R in the middle"), accent_way="added")) == "AAARAAA"
    assert keys(an_order("8 A", accents=read_accents("2 R in the middle"))) == "AAARRAAA"


def test_two_accents_at_one_place_stand_side_by_side_as_they_were_typed():
    plan = an_order("4 A", accents=read_accents("1 R after 2, 1 S after 2"), accent_way="added")
    assert keys(plan) == "AARSAA"


def test_accents_count_the_ends_of_borders_and_repeats():
    plan = a_plan(
        across_um=IN, border=read_order("2 C"), order=read_order("2 A"), accents=read_accents("1 R at 2")
    )
    assert keys(plan) == "CR" + 8 * "A" + "CC"


@pytest.mark.parametrize(
    ("line", "way"),
    [
        ("1 R at 9", "replaces"),
        ("2 R at 8", "replaces"),
        ("1 R after 9", "added"),
        ("2 R at 2, 1 S at 3", "replaces"),
    ],
)
def test_an_accent_beyond_the_pattern_or_on_another_is_refused(line, way):
    with pytest.raises(CalcError) as refused:
        work_out(an_order("8 A", accents=read_accents(line), accent_way=way))
    assert refused.value.field == "accents"


def test_there_is_a_limit_to_accents():
    for found in ((Accent(1_001, "R", 0),), tuple(Accent(1, "R", at) for at in range(101))):
        with pytest.raises(CalcError) as refused:
            check_accents(found)
        assert refused.value.field == "accents"


def picks(plan):
    (body,) = work_out(plan).weft.sections
    return "".join(key for stretch in body.stretches for key in stretch.sequence())


def test_accents_in_the_weft_lie_as_far_from_the_ends_as_from_the_edges():
    """12 ends and 10 picks to the inch: one inch from the left is 12 ends, and 10 picks from the start."""
    plan = a_plan(
        along_um=4 * IN,
        order=read_order("48 A"),
        order_fills=False,
        pick_order=read_order("1 B"),
        accents=read_accents("1 R at 13, 1 R at 36"),
        accents_in_weft=True,
    )
    assert picks(plan) == 10 * "B" + "R" + 18 * "B" + "R" + 10 * "B"


def test_an_accent_added_in_the_weft_makes_the_piece_a_pick_longer():
    plan = a_plan(
        along_um=IN,
        order=read_order("12 A"),
        order_fills=False,
        pick_order=read_order("1 B"),
        accents=read_accents("1 R in the middle"),
        accent_way="added",
        accents_in_weft=True,
    )
    assert picks(plan) == "BBBBBRBBBBB"
    worked = work_out(plan)
    assert worked.length.woven_um == Fraction(11 * IN, 10) == worked.length.finished_um
    assert worked.weft.piece.picks == {"B": 10, "R": 1}
    assert worked.weft.piece.tails == {"B": 1, "R": 1}


def test_an_accent_that_has_no_room_in_the_weft_is_refused():
    plan = a_plan(
        along_um=IN,
        order=read_order("48 A"),
        order_fills=False,
        accents=read_accents("1 R at 20"),
        accents_in_weft=True,
        picks=Density(Fraction(10)),
    )
    with pytest.raises(CalcError) as refused:
        work_out(plan)
    assert refused.value.field == "accents"


def test_accents_keep_out_of_the_weft_unless_asked():
    plan = a_plan(accents=read_accents("1 R at 5"))
    assert "R" not in work_out(plan).weft.piece.picks


@given(accents, st.sampled_from(["replaces", "added"]), st.integers(1, 60))
def test_placed_accents_stand_in_order_or_are_refused(found, way, threads):
    try:
        placed = place_accents(found, way, threads)
    except CalcError as error:
        assert error.field == "accents"
        return
    places = [place for place, _ in placed]
    assert places == sorted(places)
    assert sorted(accent.text for _, accent in placed) == sorted(accent.text for accent in found)
