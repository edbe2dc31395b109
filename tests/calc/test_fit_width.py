"""Fit to width: a few choices of repeats and balance, and what each comes to."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from stash.calc.borders import mirrored
from stash.calc.colour_order import read_order
from stash.calc.fit_width import width_choices
from stash.calc.selvedges import Selvedges
from stash.calc.width import work_width
from tests.calc.plans import IN, a_plan, orders

pytestmark = pytest.mark.once


def stripes(**changes):
    """Eight A and four B at 12 to the inch: an inch to the repeat, and 10 in in the reed are asked for."""
    return a_plan(**{"order": read_order("8 A, 4 B"), "across_um": 10 * IN} | changes)


def test_one_repeat_fewer_and_one_more_stand_beside_the_repeats_of_the_plan():
    found = [(one.repeats, one.balance, one.ends) for one in width_choices(stripes())]
    assert found == [
        (9, 0, 108), (9, 1, 109), (9, 8, 116),
        (10, 0, 120), (10, 1, 121), (10, 8, 128),
        (11, 0, 132), (11, 1, 133), (11, 8, 140),
    ]  # fmt: skip


def test_the_plan_as_it_stands_is_marked():
    (chosen,) = [one for one in width_choices(stripes(balance_ends=8)) if one.chosen]
    assert (chosen.repeats, chosen.balance, chosen.ends) == (10, 8, 128)


def test_each_says_its_width_its_edges_and_whether_it_reads_the_same_from_either_side():
    by_ends = {one.ends: one for one in width_choices(stripes(losses_across=(Fraction(1, 10),)))}
    bare, mirror = by_ends[144], by_ends[152]
    assert (bare.in_reed_um, bare.finished_um) == (12 * IN, Fraction(108 * IN, 10))
    assert (bare.first_key, bare.last_key, bare.edges_match, bare.symmetrical) == ("A", "B", False, False)
    assert (mirror.edges_match, mirror.symmetrical) == (True, True)


def test_what_the_plan_asks_already_is_left_alone():
    assert {one.asks_um for one in width_choices(stripes()) if one.repeats == 10} == {10 * IN}


def test_an_order_that_is_the_whole_warp_has_no_choice():
    assert width_choices(stripes(order_fills=False)) == ()


def test_a_single_repeat_is_not_made_fewer():
    found = width_choices(stripes(across_um=IN // 2))
    assert {one.repeats for one in found} == {1, 2}


def test_the_size_to_ask_for_is_rounded_to_what_a_field_shows():
    plan = stripes(across_um=10 * IN, losses_across=(Fraction(1, 7),))
    for one in width_choices(plan, step_um=254):
        assert one.asks_um % 254 == 0


@given(orders, st.integers(1, 60), st.sampled_from([1, 100, 254]), st.booleans(), st.booleans())
@settings(max_examples=60)
def test_whatever_is_taken_comes_to_what_was_shown(order, inches, step_um, bordered, floating):
    assume(order.length < 2_000)
    plan = a_plan(
        order=order,
        across_um=inches * IN,
        losses_across=(Fraction(1, 9),),
        border=read_order("2 A, 1 B") if bordered else None,
        selvedges=Selvedges(floating=floating),
    )
    for one in width_choices(plan, step_um=step_um):
        taken = work_width(replace(plan, across_um=one.asks_um, balance_ends=one.balance))
        assert (taken.repeats, taken.ends) == (one.repeats, one.ends)
        assert (taken.in_reed_um, taken.finished_um) == (one.in_reed_um, one.finished_um)
        if one.symmetrical:
            whole = plan.order.filled(one.repeats, one.balance)
            assert mirrored(whole).sequence() == whole.sequence()
