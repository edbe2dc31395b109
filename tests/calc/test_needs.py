"""Needs: what a plan asks of each shade, bare and with the buffer."""

from fractions import Fraction

import pytest

from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.needs import buffered_ends, work_out
from tests.calc.plans import IN, YD, a_plan

pytestmark = pytest.mark.once

PERCENT = Fraction(1, 100)


def test_ends_are_counted_by_shade_from_the_order_that_fills_the_width():
    worked = work_out(
        a_plan(
            order=read_order("7 A, 4 B, 1 C"), balance_ends=7, across_um=21 * IN, pick_order=read_order("1 D")
        )
    )
    assert worked.warp_order.text == "21 times (7 A, 4 B, 1 C), 7 A"
    assert worked.ends_by_key == {"A": 154, "B": 84, "C": 21}
    assert worked.width.ends == worked.warp_order.length == 259


def test_every_shade_of_either_order_has_a_need_in_the_order_of_the_keys():
    worked = work_out(a_plan(order=read_order("1 AA, 1 B"), pick_order=read_order("1 C, 1 B, 1 A")))
    assert [need.key for need in worked.needs] == ["A", "B", "C", "AA"]
    assert [need.ends for need in worked.needs] == [0, 84, 0, 84]


def test_warp_and_weft_of_a_shade_are_apart_and_in_sum():
    worked = work_out(
        a_plan(
            pieces=4,
            sample_um=10 * IN,
            weft_take_up=10 * PERCENT,
            tail_um=7 * IN,
            pick_order=read_order("1 A"),
        )
    )
    need = worked.needs[0]
    # 84 ends of 90 in; 200 picks a piece of 15.4 in and a tail, 100 picks in the sample.
    assert (need.ends, need.warp_um) == (84, 90 * IN)
    assert need.warp_total_um == 84 * 90 * IN
    assert (need.picks, need.tails) == (900, 5)
    assert need.weft_piece_um == (3080 + 7) * IN
    assert need.weft_sample_um == (1540 + 7) * IN
    assert need.weft_um == 4 * 3087 * IN + 1547 * IN
    assert need.total_um == need.warp_total_um + need.weft_um


def test_a_buffer_is_taken_once_of_ends_and_of_weft():
    worked = work_out(a_plan(warp_buffer=5 * PERCENT, weft_buffer=8 * PERCENT, pick_order=read_order("1 A")))
    need = worked.needs[0]
    assert (need.ends, need.ends_buffered) == (84, 89)  # 4.2 ends more are 5
    assert need.weft_piece_um == 2800 * IN
    assert need.weft_piece_buffered_um == 3024 * IN
    assert need.weft_buffered_um == 4 * 3024 * IN
    assert need.buffered_total_um == 89 * 80 * IN + need.weft_buffered_um


def test_a_buffer_is_taken_of_the_samples_weft_too():
    plan = a_plan(sample_um=10 * IN, weft_buffer=8 * PERCENT, pick_order=read_order("1 A"))
    need = work_out(plan).needs[0]
    assert (need.weft_sample_um, need.weft_sample_buffered_um) == (1400 * IN, 1512 * IN)


@pytest.mark.parametrize(
    ("ends", "percent", "buffered"),
    [
        (0, 5, 0),
        (1, 5, 2),
        (20, 5, 21),
        (20, 0, 21),
        (20, 10, 22),
        (21, 0, 21),
        (21, 5, 23),
        (100, 5, 105),
        (101, 5, 107),
    ],
)
def test_an_accent_has_at_least_one_end_to_spare(ends, percent, buffered):
    assert buffered_ends(ends, percent * PERCENT) == buffered


def test_lengths_are_rounded_up_once_and_not_pick_by_pick():
    # Each shade has every second of 200 picks of 33 1/3 um: 3,333 1/3 um, and not 100 times 34.
    worked = work_out(
        a_plan(pieces=1, sett=Density(Fraction(3), 100), order=read_order("1 A"), order_fills=False)
    )
    assert worked.weft.pick_um == Fraction(100, 3)
    assert [(need.picks, need.weft_piece_um) for need in worked.needs] == [(100, 3334), (100, 3334)]


def test_a_need_for_packing_holds_the_same_figures():
    shade = work_out(a_plan(sample_um=IN)).needs[0]
    need = shade.need
    assert (need.key, need.ends, need.ends_buffered) == (shade.key, shade.ends, shade.ends_buffered)
    assert need.weft_um(shade.pieces) == shade.weft_um
    assert need.weft_um(shade.pieces, buffered=True) == shade.weft_buffered_um


def test_a_shade_that_only_the_sample_reaches_needs_no_weft_in_the_pieces():
    worked = work_out(
        a_plan(
            pieces=2,
            along_um=IN,
            sample_um=5 * IN,
            pick_order=read_order("10 A, 40 B"),
            order=read_order("1 A"),
        )
    )
    need = worked.needs[1]
    assert (need.key, need.ends, need.weft_piece_um, need.picks) == ("B", 0, 0, 40)
    assert need.weft_um == need.weft_sample_um == 40 * 14 * IN


def test_732_yd_at_12_yd_are_61_ends_in_whole_micrometres():
    """Common practice, no source: whole millimetres would lose the last end."""
    assert 732 * YD // (12 * YD) == 61
    assert (732 * YD // 1000) // -(-12 * YD // 1000) == 60
