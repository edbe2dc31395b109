"""Winding several ends of one shade at once, and what has to be wound over first."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need, pack
from stash.calc.wind_over import passes_together, wind_over
from tests.calc.plans import YD

pytestmark = pytest.mark.once

WARP = 15 * YD // 2
GRIST = Grist.from_yd_per_lb(1680)


def test_our_own_worked_case_two_cones_wound_together():
    """Our own worked case S07 (invented): 240 ends of 7.5 yd from cones of 1300 and 620 yd."""
    plan = wind_over([1300 * YD, 620 * YD], 240, WARP)
    assert plan.enough
    assert plan.passes_as_they_are == 82
    assert [package.needed_um for package in plan.packages] == [900 * YD, 900 * YD]
    assert [package.over_um for package in plan.packages] == [0, 280 * YD]
    assert plan.over_um == 280 * YD
    assert round(float(GRIST.mass_mg_of(plan.over_um)) / 1000, 1) == 75.6
    after = [1300 * YD - plan.over_um, 620 * YD + plan.over_um]
    assert after == [1020 * YD, 900 * YD]
    assert sum(after) - sum(package.needed_um for package in plan.packages) == 120 * YD


def test_our_own_worked_case_wound_as_they_come():
    """Our own worked case S07 (invented): 82 passes of two, then the last 76 ends singly."""
    double = passes_together([1300 * YD, 620 * YD], WARP)
    assert 2 * double == 164
    singly = (1300 * YD - double * WARP) // WARP
    assert (singly, 2 * double + singly, 240 - 2 * double) == (91, 255, 76)


def test_our_own_worked_case_five_remnants_give_69_ends_and_not_71():
    """Our own worked case S07 (invented): the sum of floors counts, not the floor of the sum."""
    remnants = [188, 145, 97, 61, 44]
    # A grist that makes a milligram a thousandth of a yard, so that the lengths are exact.
    grist = Grist(YD, 1000)
    cones = [ConeStock(id=number, lot=1, free_mg=yards * 1000) for number, yards in enumerate(remnants)]
    packing = pack(Need("A", 240, 240, 0, 0, 0, 0), WARP, 1, 0, grist, cones, buffered=False)
    assert [line.ends for line in packing.lines] == [25, 19, 12, 8, 5]
    assert packing.ends_served == 69
    assert sum(remnants) * YD // WARP == 71


def test_an_odd_number_of_ends_gives_the_longest_package_one_more():
    plan = wind_over([10 * YD, 30 * YD], 5, 5 * YD)
    assert [package.ends for package in plan.packages] == [2, 3]


def test_too_little_in_all_is_not_enough_however_it_is_wound_over():
    assert not wind_over([100 * YD, 80 * YD], 240, YD).enough
    assert wind_over([160 * YD, 80 * YD], 240, YD).enough


def test_there_is_nothing_to_wind_without_a_package_or_a_warp():
    for lengths, warp, field in (([], YD, "lengths_um"), ([YD], 0, "warp_um")):
        with pytest.raises(CalcError) as caught:
            passes_together(lengths, warp)
        assert caught.value.field == field


@given(st.lists(st.integers(0, 10**9), min_size=1, max_size=5), st.integers(0, 500), st.integers(1, 10**7))
@settings(max_examples=60)
def test_the_packages_give_all_ends_and_none_gives_more_than_one_beyond_another(lengths, ends, warp):
    plan = wind_over(lengths, ends, warp)
    shares = [package.ends for package in plan.packages]
    assert sum(shares) == ends
    assert max(shares) - min(shares) <= 1
    assert plan.enough == (sum(lengths) >= ends * warp)
