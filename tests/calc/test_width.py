"""Width: losses divided out, whole repeats, and the width that results."""

from dataclasses import replace
from fractions import Fraction

import pytest

from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.losses import after_losses, before_losses, share_left
from stash.calc.selvedges import Selvedges
from stash.calc.sley import Sleyed, read_sley
from stash.calc.width import LowerWidth, work_width
from tests.calc.plans import IN, a_plan

pytestmark = pytest.mark.once

PERCENT = Fraction(1, 100)


def test_a_loss_is_divided_out_and_never_added():
    """W. H. Dooley, Textiles, 1910/1914, defines shrinkage on the length before wetting: 10 in at 20 % is
    12.5 in. Adding gives 12 in, and a piece of 9.6 in."""
    assert before_losses(10 * IN, (20 * PERCENT,)) == Fraction(25, 2) * IN
    assert after_losses(12 * IN, (20 * PERCENT,)) == Fraction(96, 10) * IN


def test_a_tenth_off_36_in_is_40_in():
    """National Instructional Media Institute (Government of India), Shawl Weaving Artisan, Trade Practical,
    NSQF 3.5, revised 2024: divides, 36 / 0.90 = 40."""
    assert before_losses(36 * IN, (10 * PERCENT,)) == 40 * IN


def test_two_losses_follow_each_other():
    assert share_left((10 * PERCENT, 20 * PERCENT)) == 72 * PERCENT
    assert before_losses(72, (10 * PERCENT, 20 * PERCENT)) == 100


def test_a_one_inch_bout_of_one_end_a_dent_in_a_12_dent_reed_is_12_ends():
    """Common practice, no source."""
    assert work_width(a_plan(across_um=1 * IN)).ends == 12


def test_repeats_are_rounded_up_so_that_the_piece_is_never_narrower_than_asked():
    width = work_width(a_plan(across_um=14 * IN, order=read_order("5 A, 5 B"), losses_across=(10 * PERCENT,)))
    assert width.on_loom_um == Fraction(140, 9) * IN
    assert width.target_ends == Fraction(560, 3)  # 186 2/3
    assert (width.repeats, width.ends) == (19, 190)
    assert width.in_reed_um == Fraction(190, 12) * IN
    assert width.finished_um == Fraction(57, 4) * IN  # 14 1/4 in
    assert width.lower == LowerWidth(180, Fraction(27, 2) * IN)


def test_one_repeat_is_the_next_lower_choice_of_two():
    width = work_width(a_plan(across_um=14 * IN, order=read_order("60 A, 60 B")))
    assert (width.ends, width.lower) == (240, LowerWidth(120, Fraction(10) * IN))


def test_a_width_that_comes_out_takes_no_repeat_more():
    width = work_width(a_plan(across_um=14 * IN))
    assert (width.target_ends, width.repeats, width.ends) == (168, 84, 168)
    assert width.finished_um == 14 * IN


def test_balance_ends_count_towards_the_width():
    width = work_width(a_plan(across_um=14 * IN, balance_ends=1))
    assert (width.repeats, width.ends) == (84, 169)
    wider = work_width(a_plan(across_um=14 * IN, order=read_order("6 A, 6 B"), balance_ends=12))
    assert (wider.repeats, wider.ends) == (13, 168)


def test_an_odd_total_stays_odd():
    """Common practice, no source: one end added for balance makes an even total odd."""
    assert work_width(a_plan(across_um=10 * IN, balance_ends=1)).ends % 2 == 1


def test_there_is_always_one_repeat_and_none_lower():
    width = work_width(a_plan(across_um=1, order=read_order("40 A, 40 B")))
    assert (width.repeats, width.ends, width.lower) == (1, 80, None)


def test_an_order_that_is_the_whole_warp_fixes_the_ends_and_the_width_follows():
    width = work_width(
        a_plan(order=read_order("60 A, 60 B"), order_fills=False, losses_across=(10 * PERCENT,))
    )
    assert (width.ends, width.repeats, width.lower) == (120, None, None)
    assert width.in_reed_um == 10 * IN
    assert width.finished_um == 9 * IN


def test_too_many_ends_name_the_width():
    with pytest.raises(CalcError, match=r"20,004 ends; up to 20,000") as caught:
        work_width(a_plan(across_um=1667 * IN))
    assert caught.value.field == "across_um"


def test_a_width_that_no_reed_has_names_the_sett():
    with pytest.raises(CalcError) as caught:
        work_width(a_plan(order_fills=False, sett=Density(Fraction(1), 90_000_000)))
    assert caught.value.field == "sett"


def sleyed(text, dents, keeps="ends"):
    return Sleyed(Density(Fraction(dents)), read_sley(text), keeps)


def test_once_sleyed_the_width_in_the_reed_is_that_of_the_dents_used():
    """324 ends at 18 in a reed of 15: near, 18.75, in 260 dents (our own worked case)."""
    plan = a_plan(order=read_order("324 A"), order_fills=False, sett=Density(Fraction(18)))
    assert work_width(plan).in_reed_um == 18 * IN
    assert work_width(replace(plan, sleyed=sleyed("1-1-1-1-2", 15))).in_reed_um == 18 * IN
    near = work_width(replace(plan, sleyed=sleyed("1-1-1-2", 15)))
    assert near.in_reed_um == Fraction(260 * IN, 15)
    assert near.ends == 324


def test_a_near_sley_keeps_the_ends_or_the_width():
    plan = a_plan(order=read_order("1 A, 1 B"), across_um=18 * IN, sett=Density(Fraction(18)))
    asked = work_width(plan)
    ends = work_width(replace(plan, sleyed=sleyed("1-1-1-2", 15)))
    width = work_width(replace(plan, sleyed=sleyed("1-1-1-2", 15, "width")))
    assert (asked.ends, ends.ends, width.ends) == (324, 324, 338)
    assert ends.in_reed_um < asked.in_reed_um
    assert abs(width.in_reed_um - asked.in_reed_um) <= Fraction(IN, 15)


def test_floating_selvedges_take_a_dent_each_of_a_sleyed_reed():
    plan = a_plan(order=read_order("20 A"), order_fills=False, selvedges=Selvedges(floating=True))
    found = work_width(replace(plan, sleyed=sleyed("2", 10)))
    assert found.in_reed_um == Fraction(12 * IN, 10)
