"""Yarn that a later project holds. Five scarves take 36 ends of 5 yd of A and 180 yd of B, at a yard a gram."""

from fractions import Fraction

import pytest

from stash.calc.needs import work_out
from stash.calc.verdict import Verdict
from stash.calc.ways.moving import Demand, Later, moving, share_of
from stash.calc.ways.tried import try_plan
from tests.calc.plans import YD
from tests.calc.ways.shelves import YARD_A_GRAM, cone, scarves, shelf

pytestmark = pytest.mark.once

GRAM = 1000


def later(key="B", held=None, pieces=2, claim_id=9):
    """A later project of the same scarves, so many of them: 36 yd of B each."""
    worked = work_out(scarves(pieces=pieces))
    asked = next(need for need in worked.needs if need.key == key)
    demand = Demand(asked.need, asked.warp_um, pieces, 0, YARD_A_GRAM)
    return Later(claim_id, {key: {1: 72 * GRAM} if held is None else held}, {key: demand})


def test_what_it_holds_cures_and_what_it_would_then_lack_is_said():
    (way,) = moving(try_plan(scarves(), shelf(A=180, B=150)), [later()])
    assert way.cures
    assert way.claim_id == 9
    assert way.moved_mg == {"B": 30 * GRAM}
    (lost,) = way.lost
    assert lost.before.state == Verdict.ENOUGH
    assert lost.lacks_um == 30 * YD


def test_lots_count_on_both_sides():
    # Seven pieces: of 150 yd four, of another lot's 72 yd two. The later project holds 36 yd of the first lot: with
    # them five come of it, and 6 yd are left of what it needs.
    stock = shelf(A=180, B=[cone(1, 150, 1), cone(2, 72, 2)])
    (way,) = moving(try_plan(scarves(pieces=7), stock | shelf(A=252)), [later(held={1: 36 * GRAM}, pieces=1)])
    assert way.before.verdicts["B"].short_um == 36 * YD - 6 * YD
    assert way.after.state != Verdict.SHORT
    assert way.lost[0].before.state == Verdict.ENOUGH
    assert way.lost[0].lacks_um == 30 * YD


def test_yarn_of_others_is_never_taken_for_the_buffer():
    plan = scarves(weft_buffer=Fraction(1, 10))
    (way,) = moving(try_plan(plan, shelf(A=180, B=150)), [later()])
    assert way.moved_mg == {"B": 30 * GRAM}
    assert way.after.state == Verdict.TIGHT
    assert moving(try_plan(plan, shelf(A=180, B=185)), [later()]) == []


def test_what_does_not_suffice_leaves_less_missing():
    (way,) = moving(try_plan(scarves(), shelf(A=180, B=50)), [later()])
    assert not way.cures
    assert way.helps
    assert way.after.verdicts["B"].short_um == 58 * YD


def test_what_is_of_no_use_is_not_asked_for():
    """Four yards more on a cone of its own give no end of 5 yd."""
    stock = shelf(A=[cone(1, 175, 1), cone(2, 0, 1)], B=180)
    assert moving(try_plan(scarves(), stock), [later("A", held={2: 4 * GRAM})]) == []


def test_each_later_claim_is_tried_alone_in_the_order_given():
    found = moving(try_plan(scarves(), shelf(A=180, B=150)), [later(claim_id=3), later(claim_id=8)])
    assert [way.claim_id for way in found] == [3, 8]


def test_the_lines_are_the_usual_ones_where_nothing_of_others_is_needed():
    (asked,) = (need for need in work_out(scarves()).needs if need.key == "B")
    shelf_of_b = shelf(B=[cone(1, 180, 1)])["B"]
    demand = Demand(asked.need, asked.warp_um, asked.pieces, 0, YARD_A_GRAM)
    (line,) = share_of(demand, shelf_of_b, {1: 72 * GRAM}).packing.lines
    assert (line.use, line.length_um) == ("weft", 180 * YD)
