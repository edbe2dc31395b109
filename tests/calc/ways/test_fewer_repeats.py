"""Fewer repeats across as a way out. A repeat is 4 ends, 4 in wide; five pieces take 5 yd of each end."""

from fractions import Fraction

import pytest

from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.ways.fewer_repeats import fewer_repeats
from stash.calc.ways.tried import try_plan
from tests.calc.plans import IN, YD
from tests.calc.ways.shelves import scarves, shelf

pytestmark = pytest.mark.once

STRIPES = scarves(order=read_order("3 A, 1 B"))
"""36 in: nine repeats, 27 ends of A and 9 of B."""


def test_as_few_repeats_fewer_as_cure_it_and_the_width_that_results():
    # 100 yd of A are 20 ends of 5 yd: six repeats of 3.
    way = fewer_repeats(try_plan(STRIPES, shelf(A=100, B=1000)))
    assert (way.repeats, way.fewer) == (6, 3)
    assert way.finished_um == 24 * IN
    assert way.after.plan.across_um == 24 * IN
    assert way.cures


def test_every_shade_is_judged_by_the_narrower_plan():
    # The weft, all of B, shrinks with the width: at 6 repeats 180 picks of 24 in and 6 ends of 5 yd.
    way = fewer_repeats(try_plan(STRIPES, shelf(A=100, B=1000)))
    assert {effect.key: effect.after_um for effect in way.effects} == {
        "A": 18 * 5 * YD,
        "B": (6 * 5 + 120) * YD,
    }


def test_the_sett_is_never_changed():
    way = fewer_repeats(try_plan(STRIPES, shelf(A=100, B=1000)))
    assert way.after.plan.sett == STRIPES.sett


def test_the_width_asked_for_is_rounded_down_where_that_keeps_the_repeats():
    plan = scarves(order=read_order("3 A, 1 B"), losses_across=(Fraction(1, 7),))
    way = fewer_repeats(try_plan(plan, shelf(A=100, B=1000)), step_um=IN // 8)
    assert way.after.plan.across_um % (IN // 8) == 0
    assert way.after.worked.width.repeats == way.repeats == 6
    assert way.finished_um == Fraction(24 * IN * 6, 7)


def test_the_width_of_few_fine_ends_is_not_rounded_away():
    plan = scarves(order=read_order("1 A"), sett=Density(Fraction(100)), across_um=IN)
    way = fewer_repeats(try_plan(plan, shelf(A=5 * 99, B=1000)), step_um=IN // 8)
    assert (way.repeats, way.fewer) == (99, 1)
    assert way.after.worked.width.repeats == 99


def test_balance_stays_when_repeats_go():
    plan = scarves(order=read_order("3 A, 1 B"), balance_ends=3, across_um=35 * IN)
    way = fewer_repeats(try_plan(plan, shelf(A=5 * 20, B=1000)))
    assert way.repeats == 5
    assert way.after.worked.ends_by_key == {"A": 18, "B": 5}


def test_a_loom_that_is_too_narrow_is_cured_by_the_repeats_that_fit():
    way = fewer_repeats(try_plan(STRIPES, shelf(A=1000, B=1000), usable_um=30 * IN))
    assert (way.repeats, way.after.fits, way.cures) == (7, True, True)


@pytest.mark.parametrize(
    ("plan", "stock"),
    [
        (scarves(order=read_order("36 A"), order_fills=False), shelf(A=100, B=1000)),
        (STRIPES, shelf(A=5, B=1000)),
        (scarves(order=read_order("36 A")), shelf(A=100, B=1000)),
    ],
    ids=["a whole warp", "no repeat is served", "one repeat only"],
)
def test_nothing_is_offered_where_no_number_cures_it(plan, stock):
    assert fewer_repeats(try_plan(plan, stock)) is None
