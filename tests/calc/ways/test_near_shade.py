"""The nearest shade in place of one that is short. Colours are compared by CIEDE2000; see test_colour for its values."""

from fractions import Fraction

import pytest

from stash.calc.colour import apart
from stash.calc.colour_order import read_order
from stash.calc.grist import Grist
from stash.calc.verdict import Verdict
from stash.calc.ways.near_shade import Neighbour, near_in_grist, near_shades, nearest, with_key
from stash.calc.ways.tried import try_plan
from tests.calc.plans import YD
from tests.calc.ways.shelves import YARD_A_GRAM, cone, scarves, shelf

pytestmark = pytest.mark.once

GREEN, NEARER, FARTHER, RED = "#2f5d50", "#315f52", "#3d7060", "#8c2f2f"


def neighbour(number, colour, yards=1000, grist=YARD_A_GRAM):
    return Neighbour(number, colour, grist, [cone(100 + number, yards, number)])


def ways(stock, neighbours, plan=None):
    before = try_plan(plan or scarves(), stock)
    return near_shades(before, {"A": GREEN, "B": GREEN}, {"A": neighbours, "B": neighbours})


def test_the_nearest_that_serves_comes_first_and_its_difference_is_ciede2000():
    found = ways(shelf(A=1000, B=10), [neighbour(1, RED), neighbour(2, FARTHER), neighbour(3, NEARER)])
    assert [way.neighbour.id for way in found] == [3, 2]
    assert found[0].gap == apart(GREEN, NEARER)
    assert all(way.cures for way in found)


def test_a_nearer_shade_that_does_not_suffice_is_passed_over():
    found = ways(shelf(A=1000, B=10), [neighbour(1, NEARER, yards=179), neighbour(2, FARTHER, yards=180)])
    assert [way.neighbour.id for way in found] == [2]


def test_three_are_enough_to_choose_from():
    found = ways(shelf(A=1000, B=10), [neighbour(number, FARTHER) for number in range(1, 9)])
    assert len(found) == 3


def test_of_quite_another_colour_the_nearest_alone_is_offered():
    found = ways(shelf(A=1000, B=10), [neighbour(1, RED), neighbour(2, "#ffffff"), neighbour(3, "")])
    assert [way.neighbour.id for way in found] == [1]


def test_a_shade_without_a_colour_comes_last():
    assert [one.id for _, one in nearest(GREEN, YARD_A_GRAM, [neighbour(1, ""), neighbour(2, RED)])] == [2, 1]


def test_only_a_yarn_within_10_percent_in_length_per_mass_is_near():
    """Common practice: 5 to 10 %. Of a yard a gram, from 0.9 to 1.1 yd a gram."""
    for yards, near in ((900, True), (899, False), (1100, True), (1101, False)):
        assert near_in_grist(YARD_A_GRAM, Grist(yards * YD // 1000, 1000)) is near


def test_the_other_yarn_is_reckoned_by_its_own_length_per_mass():
    finer = Grist(YD * 11 // 10, 1000)
    by_weight = Neighbour(1, NEARER, finer, [cone(101, 164)])  # 164 g are 180.4 yd of it
    assert ways(shelf(A=1000, B=10), [by_weight])
    assert not ways(shelf(A=1000, B=10), [Neighbour(1, NEARER, finer, [cone(101, 163)])])


def test_a_cure_of_one_shade_says_what_remains_of_another():
    found = ways(shelf(A=10, B=10), [neighbour(1, NEARER)])
    assert [way.key for way in found] == ["A", "B"]
    assert not any(way.cures for way in found)
    assert found[0].after.verdicts["A"].state == Verdict.ENOUGH
    assert found[0].after.verdicts["B"].short_um == 170 * YD


def test_a_shade_in_warp_and_weft_may_stay_in_the_warp_and_give_way_in_the_weft():
    plan = scarves(pick_order=read_order("1 A"))
    instead, in_weft = ways(shelf(A=200), [neighbour(1, NEARER)], plan)
    assert (instead.weft_key, in_weft.weft_key) == ("", "B")
    assert in_weft.after.plan.pick_order.text == "1 B"
    assert in_weft.after.plan.order.text == "1 A"
    assert in_weft.cures
    assert {effect.key: (effect.before_um, effect.after_um) for effect in in_weft.effects} == {
        "A": (360 * YD, 180 * YD),
        "B": (0, 180 * YD),
    }


def test_where_the_warp_alone_is_short_another_weft_is_no_help():
    plan = scarves(pick_order=read_order("1 A"))
    assert [way.weft_key for way in ways(shelf(A=100), [neighbour(1, NEARER)], plan)] == [""]


def test_a_key_is_changed_in_every_bracket():
    order = read_order("2 A, 3 times (1 B, 2 times (1 A)), 4 C")
    assert with_key(order, "A", "Z").text == "2 Z, 3 times (1 B, 2 times (1 Z)), 4 C"
    assert order.length == with_key(order, "A", "Z").length == Fraction(15)
