"""Repeats in a list are written once, and written out give the list again."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.repeats import gather_repeats

pytestmark = pytest.mark.once


def test_what_alternates_is_written_once_with_how_often():
    assert [(one.times, "".join(one.items)) for one in gather_repeats("ABABABC")] == [(3, "AB"), (1, "C")]


def test_of_two_ways_that_cover_as_much_the_shorter_repeat_is_taken():
    assert [(one.times, "".join(one.items)) for one in gather_repeats("AAAA")] == [(4, "A")]


def test_a_repeat_that_comes_too_seldom_stays_written_out():
    assert [one.times for one in gather_repeats("ABAB", fewest_times=3)] == [1, 1, 1, 1]


@given(st.text("ABC", max_size=60), st.integers(2, 6))
@settings(max_examples=200)
def test_written_out_the_repeats_are_the_list(text, longest):
    found = gather_repeats(text, longest)
    assert "".join("".join(one.items) * one.times for one in found) == text
    assert [one.first for one in found] == [
        sum(before.length for before in found[:at]) for at in range(len(found))
    ]
    assert all(len(one.items) <= longest for one in found)
