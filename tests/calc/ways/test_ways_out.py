"""All ways together. Figures invented."""

from dataclasses import replace

import pytest

from stash.calc.colour_order import read_order
from stash.calc.verdict import Verdict
from stash.calc.ways.buying import Buying
from stash.calc.ways.fewer_pieces import FewerPieces
from stash.calc.ways.fewer_repeats import FewerRepeats
from stash.calc.ways.less_waste import LessWaste, Waste
from stash.calc.ways.near_shade import NearShade, Neighbour
from stash.calc.ways.tried import try_plan
from stash.calc.ways.turned import Turned
from stash.calc.ways.ways_out import Surroundings, ways_out
from tests.calc.plans import IN
from tests.calc.ways.shelves import YARD_A_GRAM, cone, scarves, shelf

pytestmark = pytest.mark.once

PLAN = scarves(order=read_order("3 A, 1 B"), along_um=18 * IN, waste_um=30 * IN)
"""27 ends of A and 9 of B, of 3 1/3 yd each, 90 and 30 yd; 90 picks of B, 90 yd."""

AROUND = Surroundings(
    stock=shelf(A=85, B=1000),
    colours={"A": "#2f5d50"},
    neighbours={"A": [Neighbour(7, "#315f52", YARD_A_GRAM, [cone(50, 200, 5)])]},
    put_ups={"A": 100_000},
    wastes=[Waste("tied", 12 * IN)],
)


def kinds(found):
    return [type(way) for way in found]


def test_every_way_that_cures_is_found_and_none_costs_the_cloth_before_one_that_does_not():
    found = ways_out(PLAN, AROUND)
    assert found.before.state == Verdict.SHORT
    assert kinds(found.curing) == [LessWaste, NearShade, FewerPieces, FewerRepeats, Turned, Buying]


def test_each_cure_is_one_when_the_changed_plan_is_worked_out_anew():
    for way in ways_out(PLAN, AROUND).curing:
        again = try_plan(way.after.plan, way.after.stock)
        assert again.state != Verdict.SHORT
        assert {key: found.state for key, found in again.verdicts.items()} == {
            key: found.state for key, found in way.after.verdicts.items()
        }


def test_the_sett_is_the_same_in_every_way():
    found = ways_out(PLAN, replace(AROUND, usable_um=30 * IN))
    assert found.ways
    assert {way.after.plan.sett for way in found.ways} == {PLAN.sett}


def test_a_way_that_does_not_cure_stands_after_those_that_do_and_says_what_remains():
    found = ways_out(PLAN, replace(AROUND, stock=shelf(A=72, B=1000)))
    (way,) = (way for way in found.helping if isinstance(way, LessWaste))
    assert way.after.verdicts["A"].short_ends == 2
    assert found.ways[: len(found.curing)] == found.curing


def test_a_plan_that_has_enough_wants_no_way():
    found = ways_out(PLAN, replace(AROUND, stock=shelf(A=90, B=1000)))
    assert not found.wanted
    assert found.ways == ()


def test_a_loom_too_narrow_wants_a_way_though_there_is_enough():
    found = ways_out(PLAN, replace(AROUND, stock=shelf(A=900, B=900), usable_um=30 * IN))
    assert found.wanted
    assert kinds(found.curing) == [FewerRepeats, Turned]
    assert all(way.after.worked.width.in_reed_um <= 30 * IN for way in found.curing)
