"""Passes: what is wound at once, and which way of beginning gives fewer like pairs."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.colour_order import read_order
from stash.calc.errors import CalcError
from stash.calc.passes import both_starts, wind

pytestmark = pytest.mark.once

keys = st.lists(st.sampled_from("ABC"), min_size=1, max_size=60)


def sequence(text):
    return read_order(text).sequence()


def test_even_blocks_of_two_colours_are_all_pairs_of_both():
    """With an even number of ends in every block like neighbours fall between pairs (common practice)."""
    winding = wind(sequence("2 times (4 times (1 A, 1 B), 4 times (1 B, 1 A))"), 2)
    assert {one.keys for one in winding.passes} == {("A", "B"), ("B", "A")}
    assert (winding.full, winding.singles, winding.like) == (16, 0, 0)


def test_odd_blocks_bring_like_neighbours_inside_a_pair():
    """Blocks of three begin anew with A: every second join falls inside a pair (common practice)."""
    winding = wind(sequence("4 times (1 A, 1 B, 1 A)"), 2)
    assert [one.keys for one in winding.passes] == [
        ("A", "B"), ("A", "A"), ("B", "A"), ("A", "B"), ("A", "A"), ("B", "A"),
    ]  # fmt: skip
    assert winding.packages == {"A": 2, "B": 1}


def test_a_single_end_first_can_turn_like_pairs_into_pairs_of_two_shades():
    starts = both_starts(sequence("1 A, 10 times (1 B, 1 B, 1 A, 1 A)"), 2)
    assert (starts.full_first.like, starts.single_first.like) == (0, 20)
    assert not starts.single_is_better
    starts = both_starts(sequence("10 times (1 B, 1 B, 1 A, 1 A)"), 2)
    assert (starts.full_first.like, starts.single_first.like) == (20, 0)
    assert starts.single_is_better


def test_an_odd_total_leaves_one_single_end_at_the_end():
    winding = wind(sequence("33 A"), 2)
    assert (winding.full, winding.singles, len(winding.passes)) == (16, 1, 17)
    assert winding.passes[-1].first == 32


def test_wound_one_by_one_no_pass_is_like_and_none_counts_as_single():
    winding = wind(sequence("5 A"), 1)
    assert (winding.full, winding.singles, winding.like) == (5, 0, 0)


def test_with_one_package_of_a_shade_like_ends_are_wound_apart():
    winding = wind(sequence("2 A, 1 B, 1 A, 1 B"), 2, most_of={"A": 1, "B": 1})
    assert [one.keys for one in winding.passes] == [("A",), ("A", "B"), ("A", "B")]
    assert winding.like == 0


@pytest.mark.parametrize("at_once", [0, 25])
def test_from_1_to_24_threads_are_wound_at_once(at_once):
    with pytest.raises(CalcError) as caught:
        wind(["A"], at_once)
    assert caught.value.field == "at_once"


def test_nothing_cannot_be_wound_nor_from_no_package():
    with pytest.raises(CalcError, match="no ends"):
        wind([], 2)
    with pytest.raises(CalcError, match="at least one package"):
        wind(["A"], 2, most_of={"A": 0})


@given(keys, st.integers(1, 8), st.booleans())
@settings(max_examples=150)
def test_the_passes_laid_end_to_end_are_the_warp(ends, at_once, single_first):
    winding = wind(ends, at_once, single_first=single_first)
    assert [key for one in winding.passes for key in one.keys] == ends
    assert [one.first for one in winding.passes] == [
        sum(before.ends for before in winding.passes[:at]) for at in range(len(winding.passes))
    ]
    assert winding.ends == len(ends)
    assert all(1 <= one.ends <= at_once for one in winding.passes)


@given(keys, st.booleans())
@settings(max_examples=150)
def test_twice_the_double_passes_and_the_singles_are_the_ends(ends, single_first):
    winding = wind(ends, 2, single_first=single_first)
    assert 2 * winding.full + winding.singles == len(ends)
    assert winding.full + winding.singles == len(winding.passes)
    assert winding.singles <= 2


@given(keys, st.integers(1, 6), st.integers(1, 3))
@settings(max_examples=100)
def test_no_pass_needs_more_packages_than_there_are(ends, at_once, limit):
    winding = wind(ends, at_once, most_of=dict.fromkeys("ABC", limit))
    assert max(winding.packages.values()) <= limit
    assert sum(winding.packages.values()) <= at_once * 3
