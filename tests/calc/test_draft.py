"""Drafts as they are typed: read, written back, checked, and told apart from what would fall apart on the loom."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.draft import (
    DRAFT,
    MOST_SHAFTS,
    check_shafts,
    heddles_by_shaft,
    interlacing,
    longest_floats,
    read_draft,
    read_line,
    threading_of,
)
from stash.calc.errors import CalcError
from stash.calc.structure import structure, structures

pytestmark = pytest.mark.once

TWILL = ("1, 2, 3, 4", "1+2, 2+3, 3+4, 1+4", "1, 2, 3, 4", "")


def refused(*lines):
    with pytest.raises(CalcError) as caught:
        read_draft(*lines)
    return caught.value


def same_cloth(one, other, ends=24, picks=24):
    return all(one.up(end, pick) == other.up(end, pick) for end in range(ends) for pick in range(picks))


def test_a_straight_draw_with_the_tie_up_of_2_2_twill_weaves_it():
    # Common practice, no source: the treadles lift 1 and 2, 2 and 3, 3 and 4, 4 and 1.
    assert same_cloth(read_draft(*TWILL), structure("twill-2-2"))


def test_a_lift_plan_says_the_same_as_tie_up_and_treadling():
    assert same_cloth(read_draft(*TWILL), read_draft("1-4", lift_plan="1+2, 2+3, 3+4, 1+4"))


def test_two_ends_and_two_picks_as_one_in_plain_weave_are_a_basket_weave():
    # Common practice, no source.
    assert same_cloth(read_draft("1, 1, 2, 2", "1, 2", "1, 1, 2, 2"), structure("basket-2-2"))


def test_a_point_draw_is_the_same_from_either_side():
    # Common practice, no source: threaded 1, 2, 3, 4, 3, 2 with one end of 1 for balance.
    point = read_draft("1-4, 3, 2", "1+2, 2+3, 3+4, 1+4", "1-4")
    ends = 25
    for pick in range(8):
        row = [point.up(end, pick) for end in range(ends)]
        assert row == row[::-1]


def test_treadles_pressed_together_lift_what_both_are_tied_to():
    together = read_draft("1-4", "1, 2, 3, 4", "1+3, 2+4")
    assert together.lifts == (frozenset({1, 3}), frozenset({2, 4}))


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("1 2 3 4", "1, 2, 3, 4"),
        ("1,2,3,4", "1, 2, 3, 4"),
        ("1-4", "1-4"),
        ("4 – 1", "4-1"),
        ("3TIMES(1,2),1", "3 times (1, 2), 1"),
        ("2 times (1-4, 2 times (1 2))", "2 times (1-4, 2 times (1, 2))"),
        ("01 002", "1, 2"),
    ],
)
def test_commas_spaces_and_capitals_are_free(typed, written):
    assert read_line(typed, "threading").text == written


def test_the_parts_of_a_step_are_written_in_rising_order():
    assert read_line("4 + 1, 3+2", "lift_plan").text == "1+4, 2+3"


def test_a_straight_run_counts_both_its_ends():
    assert read_line("2-5, 5-2, 3-3", "threading").steps() == tuple(
        (shaft,) for shaft in (2, 3, 4, 5, 5, 4, 3, 2, 3)
    )


@pytest.mark.parametrize(
    ("lines", "field", "position", "part"),
    [
        (("",), "threading", 1, "A threading is missing"),
        (("1 2 x",), "threading", 5, "“x” cannot be read: a shaft is expected"),
        (("1, 2; 3",), "threading", 5, "“;” cannot stand here"),
        (("1,, 2",), "threading", 3, "“,” cannot stand here"),
        (("1, 2,",), "threading", 6, "The line ends"),
        (("0",), "threading", 1, "There is no shaft 0"),
        (("1, 41",), "threading", 4, "give 1 to 40"),
        (("1+2",), "threading", 2, "An end stands on one shaft"),
        (("3 (1, 2)",), "threading", 3, "Write “times” before the bracket"),
        (("3 times 1",), "threading", 9, "After “times” comes a bracket"),
        (("0 times (1)",), "threading", 1, "at least once"),
        (("2 times (1, 2",), "threading", 9, "not closed"),
        (("1, 2)",), "threading", 5, "never opened"),
        (("1-",), "threading", 3, "The line ends"),
        (("²",), "threading", 1, "“²” cannot stand here"),
        (("1, 2",), "tie_up", None, "Give a tie-up"),
        (("1, 2", "", "1, 2"), "tie_up", 1, "A tie-up is missing"),
        (("1, 2", "1, 2"), "treadling", 1, "A treadling is missing"),
        (("1, 2", "2 times (1)", "1"), "tie_up", 1, "treadle by treadle"),
        (("1, 2", "1+1", "1"), "tie_up", 3, "stands here twice"),
        (("1, 2", "1, 3", "1, 2"), "tie_up", None, "Treadle 2 lifts shaft 3, and no end is threaded on it"),
        (
            ("1, 2", "1, 2", "1, 2, 3"),
            "treadling",
            None,
            "Pick 3 presses treadle 3; the tie-up has 2 treadles",
        ),
        (("1, 2", "0, 2", "1"), "tie_up", 1, "A treadle that lifts nothing"),
        (("1, 2", "", "", "1, 0"), "lift_plan", 4, "A pick that lifts nothing"),
        (("1, 2", "", "", "1, 3"), "lift_plan", None, "Pick 2 lifts shaft 3"),
        (("1, 2", "", "", "1, 1+2"), "lift_plan", None, "Pick 2 lifts every shaft"),
        (("1-3", "", "", "1, 2"), "lift_plan", None, "Shaft 3 is never lifted"),
        (("1-3", "1+2, 1+3", "1, 2"), "treadling", None, "Shaft 1 is lifted on every pick"),
        (("1, 2", "1, 2", "1, 2", "1, 2"), "lift_plan", None, "one of the two is enough"),
    ],
)
def test_what_cannot_be_woven_is_refused_at_its_field_and_place(lines, field, position, part):
    error = refused(*lines)
    assert (error.field, error.position) == (field, position)
    assert part in error.message


@pytest.mark.parametrize("typed", ["999999999999 times (1)", "9" * 1900, "200 times (101 times (1))"])
def test_more_than_can_be_woven_is_refused_at_once(typed):
    error = refused(typed)
    assert error.field == "threading"


def test_brackets_nest_eight_deep_and_no_deeper():
    def nested(depth):
        return "1 times (" * depth + "1" + ")" * depth

    assert read_line(nested(8), "threading").length == 1
    with pytest.raises(CalcError, match="8 deep"):
        read_line(nested(9), "threading")


def test_a_loom_with_too_few_shafts_is_named_with_the_first_end_that_has_none():
    draft = read_draft("1-4, 6, 5", lift_plan="1-3, 4+5, 6")
    check_shafts(draft, 6)
    with pytest.raises(CalcError) as caught:
        check_shafts(draft, 4, "The table loom")
    assert (caught.value.field, caught.value.position) == ("threading", 5)
    assert "The table loom has 4 shafts; end 5 of the threading stands on shaft 6" in caught.value.message


def test_a_common_structure_says_too_how_many_shafts_it_wants():
    with pytest.raises(CalcError) as caught:
        check_shafts(structure("twill-2-2"), 2)
    assert caught.value.field == "structure"


def test_common_structures_are_threaded_straight_on_the_fewest_shafts():
    assert threading_of(structure("plain"), 5) == (1, 2, 1, 2, 1)
    assert threading_of(structure("twill-2-2"), 6) == (1, 2, 3, 4, 1, 2)
    assert threading_of(structure("basket-2-2"), 5) == (1, 1, 2, 2, 1)


@pytest.mark.parametrize("key", structures())
def test_every_common_structure_woven_from_its_threading_and_lifts_is_itself(key):
    weave = structure(key)
    lift_plan = ", ".join("+".join(map(str, sorted(lift))) for lift in weave.lifts)
    draft = read_draft(", ".join(map(str, weave.threading)), lift_plan=lift_plan)
    assert same_cloth(weave, draft)
    assert draft.shafts == weave.shafts


def test_heddles_are_counted_over_the_whole_warp_and_an_empty_shaft_has_none():
    draft = read_draft("1, 2, 4, 2", lift_plan="1+4, 2")
    assert heddles_by_shaft(draft, 10) == {1: 3, 2: 5, 3: 0, 4: 2}
    assert sum(heddles_by_shaft(draft, 10).values()) == 10


@pytest.mark.parametrize(
    ("key", "warp", "weft"), [("plain", 1, 1), ("twill-2-2", 2, 2), ("twill-1-3", 3, 3), ("satin-5", 4, 4)]
)
def test_floats_are_as_long_as_the_figure_of_the_structure(key, warp, weft):
    floats = longest_floats(structure(key))
    assert (floats.warp_picks, floats.weft_ends) == (warp, weft)


def test_a_float_goes_on_where_the_repeat_begins_anew():
    # Shaft 1 is up on the last pick and on the first two: three picks in a row.
    floats = longest_floats(read_draft("1, 2", lift_plan="1, 1, 2, 2, 1"))
    assert floats.warp_picks == 3


def test_a_key_leads_to_a_common_structure_or_to_the_typed_draft():
    assert interlacing("plain") is structure("plain")
    assert interlacing(DRAFT, threading="1, 2", lift_plan="1, 2").ends == 2
    with pytest.raises(CalcError):
        interlacing(DRAFT)


shafts = st.integers(1, MOST_SHAFTS)


@given(st.text(alphabet="0123456789 +-,()timesTIMES–²x\n", max_size=50))
@settings(max_examples=150)
def test_any_text_is_read_or_refused_with_a_position(text):
    for field in ("threading", "tie_up", "treadling", "lift_plan"):
        try:
            line = read_line(text, field)
        except CalcError as error:
            assert error.field == field
            assert 1 <= error.position <= len(text) + 1
        else:
            assert read_line(line.text, field) == line
            assert line.length == len(line.steps())
