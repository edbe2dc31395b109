"""Further beams with a take-up of their own, and like warps for the kits of a class. All figures invented."""

from dataclasses import replace
from fractions import Fraction

import pytest

from stash.calc.beams import Beam
from stash.calc.colour_order import read_order
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.most import Stock, most_pieces
from stash.calc.needs import work_out
from stash.calc.packing import ConeStock
from stash.calc.verdict import Verdict, judge
from stash.calc.warp import pieces_from_warp
from tests.calc.plans import IN, YD, a_plan

pytestmark = pytest.mark.once

YARD_A_GRAM = Grist(YD, 1000)
# A yard of cloth a piece, four pieces: 4 yd on beam 1, 5 yd on beam 2 with B.
TWO_BEAMS = a_plan(
    along_um=36 * IN, order=read_order("8 A, 4 B"), order_fills=False, pick_order=read_order("1 Z")
)
TWO_BEAMS = replace(TWO_BEAMS, beams=(Beam(2, Fraction(1, 4), ("B",)),))


def needs_of(plan):
    return {need.key: need for need in work_out(plan).needs}


def test_each_beam_is_as_long_as_its_own_take_up_makes_it():
    worked = work_out(TWO_BEAMS)
    assert worked.warps_um == {1: 4 * YD, 2: 5 * YD}
    assert worked.length == worked.lengths[1] == worked.length_of("A")
    assert worked.length_of("B").take_up == Fraction(1, 4)
    needs = needs_of(TWO_BEAMS)
    assert (needs["A"].warp_total_um, needs["B"].warp_total_um) == (32 * YD, 20 * YD)


def test_the_board_is_rounded_up_to_on_every_beam():
    worked = work_out(replace(TWO_BEAMS, board_um=3 * YD))
    assert worked.warps_um == {1: 6 * YD, 2: 6 * YD}


def test_a_beam_of_its_own_decides_how_many_pieces_the_shelf_gives():
    """40 g of B are 8 ends of 5 yd, but 4 ends of 10 yd: eight pieces; a fifth of a yard less and it is seven."""
    stock = {
        "A": Stock(YARD_A_GRAM, [ConeStock(1, None, 1_000_000)]),
        "B": Stock(YARD_A_GRAM, [ConeStock(2, None, 40_000)]),
        "Z": Stock(YARD_A_GRAM, [ConeStock(3, None, 1_000_000)]),
    }
    most = most_pieces(TWO_BEAMS, stock)
    assert (most.pieces, most.stopping_key, most.missing_ends) == (8, "B", 1)
    assert most.missing_warp_um == 11_25 * YD // 100
    assert most_pieces(replace(TWO_BEAMS, beams=()), stock).pieces == 10


def test_the_warp_of_a_beam_turned_round_gives_the_pieces():
    assert pieces_from_warp(TWO_BEAMS, 5 * YD) == 5
    assert pieces_from_warp(TWO_BEAMS, 5 * YD, beam=2) == 4


@pytest.mark.parametrize(
    "beams",
    [
        (Beam(2, Fraction(0), ("A",)), Beam(2, Fraction(0), ("B",))),
        (Beam(2, Fraction(0), ("A",)), Beam(3, Fraction(0), ("A",))),
    ],
)
def test_a_beam_or_a_shade_does_not_come_twice(beams):
    with pytest.raises(CalcError) as refused:
        a_plan(beams=beams)
    assert refused.value.field == "beams"


@pytest.mark.parametrize(("number", "take_up"), [(1, 0), (5, 0), (2, 2)])
def test_further_beams_are_2_to_4_and_take_up_a_share(number, take_up):
    with pytest.raises(CalcError) as refused:
        Beam(number, Fraction(take_up), ("A",))
    assert refused.value.field == "beams"


def test_every_need_comes_as_often_as_there_are_warps():
    plan = a_plan(sample_um=6 * IN, warp_buffer=Fraction(5, 100), weft_buffer=Fraction(8, 100))
    one, eight = work_out(plan), work_out(replace(plan, warps=8))
    for single, many in zip(one.needs, eight.needs, strict=True):
        for name in (
            "ends",
            "ends_buffered",
            "picks",
            "tails",
            "pieces",
            "weft_um",
            "weft_buffered_um",
            "total_um",
            "buffered_total_um",
        ):
            assert getattr(many, name) == 8 * getattr(single, name)
        assert (many.warp_um, many.weft_piece_um) == (single.warp_um, single.weft_piece_um)
    assert (one.width, one.length, one.weft, one.warp_order) == (
        eight.width,
        eight.length,
        eight.weft,
        eight.warp_order,
    )


def test_each_kit_has_its_own_spare_end_of_an_accent():
    plan = a_plan(order=read_order("100 A, 1 R"), order_fills=False, warp_buffer=Fraction(1, 100), warps=5)
    assert (needs_of(plan)["R"].ends, needs_of(plan)["R"].ends_buffered) == (5, 10)


def test_a_shelf_for_seven_kits_is_short_for_eight():
    plan = a_plan(order=read_order("10 A"), order_fills=False, pick_order=read_order("1 Z"), along_um=9 * IN)
    cones = (ConeStock(1, None, 70_000),)  # a yard each, 70 ends

    def state(warps):
        need = needs_of(replace(plan, warps=warps))["A"]
        return judge(need.need, need.warp_um, need.pieces, 0, YARD_A_GRAM, cones).state

    assert (state(7), state(8)) == (Verdict.TIGHT, Verdict.SHORT), (
        "an accent wants a spare end with every kit"
    )


def test_most_pieces_of_kits_are_those_of_each_warp():
    plan = a_plan(order=read_order("10 A"), order_fills=False, pick_order=read_order("1 Z"), along_um=36 * IN)
    stock = {key: Stock(YARD_A_GRAM, [ConeStock(1, None, 300_000)]) for key in "AZ"}
    assert most_pieces(plan, stock).pieces == 30
    assert most_pieces(replace(plan, warps=3), stock).pieces == 10


@pytest.mark.parametrize("warps", [0, 601])
def test_there_are_1_to_600_warps(warps):
    with pytest.raises(CalcError) as refused:
        a_plan(warps=warps)
    assert refused.value.field == "warps"
