"""Less loom waste as a way out. Each of 36 ends is 5 yd and a yard of waste."""

import pytest

from stash.calc.ways.less_waste import USUAL_TIED_ON_UM, Waste, less_waste
from stash.calc.ways.tried import try_plan
from tests.calc.plans import IN, YD
from tests.calc.ways.shelves import scarves, shelf

pytestmark = pytest.mark.once

PLAN = scarves(waste_um=YD)


def test_a_warp_tied_on_saves_its_waste_on_every_end():
    # 36 ends of 6 yd are 216 yd; tied on, of 5 1/3 yd, 192 yd.
    (way,) = less_waste(try_plan(PLAN, shelf(A=192, B=1000)), [Waste("tied", USUAL_TIED_ON_UM)])
    assert way.cures
    assert way.saved_um == 24 * IN
    assert way.after.plan.waste_um == 12 * IN
    assert way.effects[0].after_um == 192 * YD


def test_what_does_not_suffice_says_what_remains():
    (way,) = less_waste(try_plan(PLAN, shelf(A=191, B=1000)), [Waste("tied", USUAL_TIED_ON_UM)])
    assert not way.cures
    assert way.helps
    assert (way.before.verdicts["A"].short_ends, way.after.verdicts["A"].short_ends) == (5, 1)


def test_only_less_waste_is_offered_and_the_least_first():
    wastes = [Waste("longer", 2 * YD), Waste("same", YD), Waste("laced", 30 * IN), Waste("tied", 12 * IN)]
    assert [way.key for way in less_waste(try_plan(PLAN, shelf(A=1, B=1)), wastes)] == ["tied", "laced"]


def test_a_loom_that_is_too_narrow_is_not_offered():
    wastes = [Waste("narrow", 10 * IN, usable_um=30 * IN), Waste("wide", 20 * IN, usable_um=36 * IN)]
    assert [way.key for way in less_waste(try_plan(PLAN, shelf(A=1, B=1)), wastes)] == ["wide"]


def test_the_part_of_the_waste_at_the_front_is_never_more_than_all_of_it():
    plan = scarves(waste_um=YD, waste_front_um=20 * IN)
    (way,) = less_waste(try_plan(plan, shelf(A=200, B=1000)), [Waste("tied", 12 * IN)])
    assert way.after.plan.waste_front_um == 12 * IN


def test_where_the_loom_is_too_narrow_a_wider_one_may_lose_more():
    wastes = [Waste("narrow", 10 * IN, usable_um=20 * IN), Waste("wide", 40 * IN, usable_um=60 * IN)]
    (way,) = less_waste(try_plan(PLAN, shelf(A=1000, B=1000), usable_um=30 * IN), wastes)
    assert (way.key, way.saved_um) == ("wide", -4 * IN)
    assert way.cures
