"""Warp length, rounded up to the board, and the pieces that a given warp holds."""

from fractions import Fraction

import pytest

from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.warp import length_for, pieces_from_warp, work_length
from tests.calc.plans import IN, YD, a_plan

pytestmark = pytest.mark.once

PERCENT = Fraction(1, 100)

# Four mats of 20 in with 2 in of hems at 12 % loss: 25 in woven each. Half an inch between them, a sample of
# 10 in, 2 in of header, 30 in of loom waste, 8 % take-up on what is woven.
MATS = a_plan(
    pieces=4,
    along_um=20 * IN,
    hem_um=2 * IN,
    losses_along=(12 * PERCENT,),
    take_up=8 * PERCENT,
    gap_um=IN // 2,
    sample_um=10 * IN,
    header_um=2 * IN,
    waste_um=30 * IN,
    board_um=YD // 4,
)


def test_a_warp_length_is_the_sum_of_its_parts():
    length = work_length(MATS)
    assert length.woven_um == 25 * IN
    assert length.woven_total_um == 100 * IN
    assert length.with_take_up_um == Fraction(1188, 10) * IN  # 110 in and 8 % of it
    assert length.gaps_um == Fraction(3, 2) * IN  # four pieces have three gaps
    assert length.exact_um == Fraction(1523, 10) * IN


def test_a_warp_is_rounded_up_to_the_board_and_says_what_that_buys():
    length = work_length(MATS)
    assert length.warp_um == 153 * IN  # 17 quarter yards
    assert length.board_buys_um == Fraction(7, 10) * IN


def test_a_length_that_the_board_measures_is_not_rounded_further():
    length = work_length(a_plan(pieces=1, along_um=YD, board_um=YD // 4))
    assert (length.warp_um, length.board_buys_um) == (YD, 0)


def test_without_a_board_a_warp_is_rounded_up_to_whole_micrometres():
    length = work_length(a_plan(pieces=1, along_um=100, losses_along=(Fraction(1, 3), Fraction(1, 7))))
    assert length.exact_um == 175
    assert length.warp_um == 175
    length = work_length(a_plan(pieces=1, along_um=100, take_up=Fraction(1, 3)))
    assert length.exact_um == Fraction(400, 3)
    assert length.warp_um == 134


def test_loom_waste_is_taken_once_however_many_pieces():
    one, ten = length_for(MATS, 1), length_for(MATS, 10)
    assert ten.exact_um - one.exact_um == 9 * (25 * Fraction(108, 100) + Fraction(1, 2)) * IN


@pytest.mark.parametrize(
    ("yards", "pieces"), [(Fraction(1523, 360), 4), (Fraction(1522, 360), 3), (1, 0), (0, 0)]
)
def test_a_warp_in_hand_gives_so_many_pieces(yards, pieces):
    assert pieces_from_warp(MATS, yards * YD) == pieces


def test_a_warp_of_10_km_names_the_pieces():
    with pytest.raises(CalcError) as caught:
        work_length(a_plan(pieces=100_000, along_um=100_000))
    assert caught.value.field == "pieces"


def test_one_piece_too_long_to_warp_names_its_length():
    with pytest.raises(CalcError) as caught:
        work_length(
            a_plan(pieces=1, along_um=999_000_000, losses_along=(90 * PERCENT,), take_up=10 * PERCENT)
        )
    assert caught.value.field == "along_um"


@pytest.mark.parametrize(
    ("change", "part"),
    [
        ({"pieces": 0}, "from 1 to 100,000 pieces"),
        ({"pieces": 100_001}, "from 1 to 100,000 pieces"),
        ({"across_um": 0}, "more than nothing"),
        ({"along_um": 1_000_000_000}, "below 1 km"),
        ({"hem_um": -1}, "below 0"),
        ({"waste_um": 1_000_000_000}, "below 1 km"),
        ({"losses_across": ()}, "one total loss, or two"),
        ({"losses_across": (Fraction(0),) * 3}, "one total loss, or two"),
        ({"losses_along": (Fraction(1),)}, "less than 100 %"),
        ({"losses_along": (Fraction(-1, 10),)}, "from 0 %"),
        ({"losses_along": (80 * PERCENT, 60 * PERCENT)}, "at most 90 % in all"),
        ({"take_up": Fraction(-1, 100)}, "from 0 to 100 %"),
        ({"weft_take_up": Fraction(101, 100)}, "from 0 to 100 %"),
        ({"warp_buffer": Fraction(2)}, "from 0 to 100 %"),
        ({"weft_buffer": Fraction(-1)}, "from 0 to 100 %"),
        ({"balance_ends": 3}, "from 0 to 2 ends"),
        ({"balance_ends": 1, "order_fills": False}, "leave this at 0"),
        ({"carry_picks": -1}, "picks"),
        ({"keep_back": 1_001}, "warp lengths"),
    ],
)
def test_a_plan_that_cannot_be_names_the_field_and_what_is_accepted(change, part):
    with pytest.raises(CalcError) as caught:
        a_plan(**change)
    assert caught.value.field == next(iter(change))
    assert part in caught.value.message


def test_a_sett_of_none_is_refused():
    with pytest.raises(CalcError):
        Density(Fraction(0))
