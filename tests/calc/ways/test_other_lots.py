"""Odd lots as a way out."""

import pytest

from stash.calc.colour_order import read_order
from stash.calc.verdict import Verdict
from stash.calc.ways.other_lots import lot_inside_piece, two_warps
from stash.calc.ways.tried import try_plan
from tests.calc.plans import YD
from tests.calc.ways.shelves import cone, scarves, shelf

pytestmark = pytest.mark.once


def test_weft_that_is_there_in_two_lots_serves_if_a_lot_may_change_inside_a_piece():
    # Each piece takes 36 yd of B: of 100 and 80 yd two pieces each, and the fifth from both.
    before = try_plan(scarves(), shelf(A=1000, B=[cone(1, 100, 1), cone(2, 80, 2)]))
    way = lot_inside_piece(before)
    assert before.state == Verdict.SHORT
    assert (way.keys, way.pieces) == (("B",), 1)
    assert way.after.state == Verdict.TIGHT
    assert way.cures
    assert not way.changes_plan


def test_where_yarn_itself_is_missing_lots_are_not_in_the_way():
    assert lot_inside_piece(try_plan(scarves(), shelf(A=1000, B=[cone(1, 100, 1), cone(2, 79, 2)]))) is None


def test_what_the_warp_takes_is_no_weft():
    plan = scarves(pick_order=read_order("1 A"))
    # 180 yd of warp from the first lot leave 60 yd there and 119 yd beside it: a yard less than 180.
    assert lot_inside_piece(try_plan(plan, shelf(A=[cone(1, 240, 1), cone(2, 119, 2)]))) is None
    assert lot_inside_piece(try_plan(plan, shelf(A=[cone(1, 240, 1), cone(2, 120, 2)]))).cures


def test_two_warps_keep_two_lots_apart():
    # 36 ends of 5 yd: 25 from the first lot and 11 from the second mix. As two warps, 3 pieces and 2.
    before = try_plan(scarves(), shelf(A=[cone(1, 125, 1), cone(2, 75, 2)], B=1000))
    assert before.verdicts["A"].lots_mixed
    way = two_warps(before)
    assert (way.after.plan.pieces, way.second.plan.pieces) == (3, 2)
    assert way.keys == ("A",)
    assert way.cures
    assert not way.after.mixed
    assert not way.second.mixed


def test_two_warps_lose_the_waste_twice():
    plan = scarves(waste_um=YD)
    # 36 ends of 6 yd mixed; as two warps of 4 yd (3 pieces) and 3 yd (2 pieces).
    before = try_plan(plan, shelf(A=[cone(1, 144, 1), cone(2, 108, 2)], B=1000))
    assert two_warps(before).more_um == YD
    assert two_warps(try_plan(plan, shelf(A=[cone(1, 144, 1), cone(2, 107, 2)], B=1000))) is None


def test_what_the_first_warp_takes_of_other_shades_is_gone_for_the_second():
    plan = scarves(pick_order=read_order("1 B"))
    lots = [cone(1, 125, 1), cone(2, 75, 2)]
    assert two_warps(try_plan(plan, shelf(A=lots, B=180))) is not None
    assert two_warps(try_plan(plan, shelf(A=lots, B=179))) is None


def test_a_warp_of_one_lot_needs_no_second():
    assert two_warps(try_plan(scarves(), shelf(A=180, B=180))) is None
