"""Fewer pieces as a way out. Five scarves take 180 yd of A as warp and 180 yd of B as weft."""

from fractions import Fraction

import pytest

from stash.calc.verdict import Verdict
from stash.calc.ways.fewer_pieces import fewer_pieces
from stash.calc.ways.tried import try_plan
from tests.calc.plans import YD
from tests.calc.ways.shelves import scarves, shelf

pytestmark = pytest.mark.once


def test_as_many_as_the_shade_that_runs_out_first_serves_and_what_stops_the_next():
    (way,) = fewer_pieces(try_plan(scarves(), shelf(A=500, B=120)))
    assert way.after.plan.pieces == 3
    assert way.cures
    assert way.after.state == Verdict.ENOUGH
    assert (way.most.stopping_key, way.most.missing_weft_um) == ("B", 24 * YD)


def test_the_effect_is_told_of_every_shade():
    (way,) = fewer_pieces(try_plan(scarves(), shelf(A=500, B=120)))
    assert [(effect.key, effect.before_um, effect.after_um) for effect in way.effects] == [
        ("A", 180 * YD, 108 * YD),
        ("B", 180 * YD, 108 * YD),
    ]


def test_where_the_bare_need_goes_further_than_the_buffered_both_numbers_are_offered():
    plan = scarves(weft_buffer=Fraction(1, 2))
    bare, whole = fewer_pieces(try_plan(plan, shelf(A=500, B=144)))
    assert (bare.after.plan.pieces, bare.after.state) == (4, Verdict.TIGHT)
    assert (whole.after.plan.pieces, whole.after.state) == (2, Verdict.ENOUGH)
    assert whole.most is None


def test_a_plan_that_is_tight_is_offered_as_many_as_have_their_whole_buffer():
    plan = scarves(weft_buffer=Fraction(1, 2))
    (way,) = fewer_pieces(try_plan(plan, shelf(A=500, B=216)))
    assert way.before.state == Verdict.TIGHT
    assert way.after.plan.pieces == 4
    assert way.cures


@pytest.mark.parametrize("stock", [shelf(A=500, B=35), {}])
def test_a_shelf_that_gives_no_piece_offers_no_number(stock):
    assert fewer_pieces(try_plan(scarves(), stock)) == []
