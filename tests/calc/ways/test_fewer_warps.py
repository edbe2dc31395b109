"""Fewer kits of a class. A warp of five scarves takes 180 yd of A and 180 yd of B."""

import pytest

from stash.calc.ways.fewer_warps import fewer_warps
from stash.calc.ways.tried import try_plan
from tests.calc.plans import YD
from tests.calc.ways.shelves import scarves, shelf

pytestmark = pytest.mark.once


def test_as_many_warps_as_the_shelf_serves():
    way = fewer_warps(try_plan(scarves(warps=6), shelf(A=1000, B=800)))
    assert way.after.plan.warps == 4
    assert way.cures
    assert {effect.key: effect.after_um for effect in way.effects} == {"A": 720 * YD, "B": 720 * YD}


@pytest.mark.parametrize(("warps", "yards"), [(1, 100), (3, 179)])
def test_one_warp_is_the_least(warps, yards):
    assert fewer_warps(try_plan(scarves(warps=warps), shelf(A=1000, B=yards))) is None
