"""Bouts: chains of a size that hangs well, ended where the winding changes if it can be."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.bouts import part_into_bouts, usual_bout
from stash.calc.density import Density
from stash.calc.errors import CalcError

pytestmark = pytest.mark.once


def test_bouts_are_even_and_no_larger_than_asked():
    bouts = part_into_bouts([(2, "AB")] * 120, 100)
    assert [bout.ends for bout in bouts] == [80, 80, 80]
    assert [bout.first_pass for bout in bouts] == [0, 40, 80]


def test_a_bout_ends_where_the_winding_changes():
    passes = [(2, "AB")] * 38 + [(2, "CD")] * 44 + [(2, "AB")] * 38
    assert [bout.ends for bout in part_into_bouts(passes, 100)] == [76, 88, 76]


def test_bouts_hold_whole_repeats_of_the_pattern_and_the_last_what_is_left():
    passes = [(2, "AA")] * 20 + [(2, "BB")] * 4
    bouts = part_into_bouts(passes * 4 + [(2, "AA")] * 3, 60, repeat=48)
    assert [bout.ends for bout in bouts] == [48, 48, 48, 54]


def test_what_stands_before_the_first_repeat_goes_with_it():
    bouts = part_into_bouts([(2, "S")] * 3 + [(2, "AB")] * 40, 30, repeat=20, before=6)
    assert [bout.ends for bout in bouts] == [26, 20, 20, 20]


def test_repeats_that_end_inside_a_pass_leave_the_bouts_even():
    bouts = part_into_bouts([(2, "AB")] * 30, 25, repeat=15)
    assert [bout.ends for bout in bouts] == [20, 20, 20]


def test_after_an_odd_number_of_passes_the_thread_is_at_the_far_peg():
    odd, even = part_into_bouts([(2, "A")] * 33, 36)
    assert (odd.passes, even.passes) == (16, 17)
    assert not odd.ends_at_far_peg
    assert even.ends_at_far_peg


def test_a_bout_that_holds_no_pass_is_refused():
    with pytest.raises(CalcError) as caught:
        part_into_bouts([(4, "A")] * 3, 3)
    assert caught.value.field == "bout"
    assert "4 ends or more" in caught.value.message


def test_unless_said_a_bout_is_three_inches_or_a_hundred_ends():
    """50 to 100 ends, or 2 to 3 in of width (common practice, no source)."""
    assert usual_bout(Density(Fraction(20))) == 60
    assert usual_bout(Density(Fraction(12))) == 50
    assert usual_bout(Density(Fraction(40))) == 100
    assert usual_bout(Density(Fraction(40)), most_ends=60) == 60
    assert usual_bout(Density(Fraction(1, 4)), most_ends=1) == 2


@given(
    st.lists(st.tuples(st.integers(1, 4), st.sampled_from("AB")), min_size=1, max_size=80),
    st.integers(4, 60),
    st.integers(0, 30),
    st.integers(0, 5),
)
@settings(max_examples=250)
def test_the_bouts_together_are_the_warp(passes, most, repeat, before):
    bouts = part_into_bouts(passes, most, repeat=repeat, before=before)
    assert sum(bout.ends for bout in bouts) == sum(ends for ends, _ in passes)
    assert sum(bout.passes for bout in bouts) == len(passes)
    assert all(1 <= bout.ends <= most for bout in bouts)
    assert [bout.first_pass for bout in bouts] == [
        sum(before.passes for before in bouts[:at]) for at in range(len(bouts))
    ]
