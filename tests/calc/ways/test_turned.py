"""Turning the piece by 90 degrees."""

from fractions import Fraction

import pytest

from stash.calc.colour_order import read_order
from stash.calc.ways.tried import try_plan
from stash.calc.ways.turned import turned
from tests.calc.plans import IN, YD
from tests.calc.ways.shelves import scarves, shelf

pytestmark = pytest.mark.once

WIDE = scarves(across_um=36 * IN, along_um=18 * IN, waste_um=36 * IN)
"""36 ends of 3 1/2 yd of A, 126 yd; five times 18 picks of a yard of B, 90 yd."""


def test_the_sizes_change_places_and_the_orders_with_them():
    # Turned, 18 ends of B and of 6 yd are 108 yd; five times 36 picks of half a yard of A are 90 yd.
    way = turned(try_plan(WIDE, shelf(A=120, B=108)))
    assert way.cures
    assert way.orders_turned
    assert (way.after.plan.across_um, way.after.plan.along_um) == (18 * IN, 36 * IN)
    assert {effect.key: effect.after_um for effect in way.effects} == {"A": 90 * YD, "B": 108 * YD}


def test_the_orders_stay_where_only_that_cures_it():
    # As above with A for the warp: 108 yd of A, 90 yd of B.
    way = turned(try_plan(WIDE, shelf(A=108, B=90)))
    assert way.cures
    assert not way.orders_turned


def test_losses_sett_and_picks_belong_to_their_direction():
    plan = scarves(
        across_um=36 * IN, along_um=18 * IN, losses_across=(Fraction(1, 10),), losses_along=(Fraction(1, 5),)
    )
    way = turned(try_plan(plan, {}))
    for name in ("losses_across", "losses_along", "sett", "picks", "hem_um", "take_up"):
        assert getattr(way.after.plan, name) == getattr(plan, name)


def test_a_piece_too_wide_for_the_loom_may_fit_turned():
    way = turned(try_plan(WIDE, shelf(A=1000, B=1000), usable_um=20 * IN))
    assert not way.before.fits
    assert way.after.fits
    assert way.cures


def test_a_turn_that_no_longer_fits_the_loom_is_no_help():
    plan = scarves(across_um=18 * IN, along_um=36 * IN)
    way = turned(try_plan(plan, {}, usable_um=20 * IN))
    assert not way.after.fits
    assert not way.helps


def test_an_order_that_is_the_whole_warp_is_as_wide_as_it_is_and_cannot_be_turned():
    plan = scarves(across_um=36 * IN, along_um=18 * IN, order=read_order("36 A"), order_fills=False)
    assert turned(try_plan(plan, {})) is None


def test_a_square_piece_of_one_order_has_nothing_to_turn():
    assert turned(try_plan(scarves(order=read_order("1 A"), pick_order=read_order("1 A")), {})) is None


def test_a_border_or_an_accent_stays_in_the_warp_and_only_the_stripes_turn():
    plan = scarves(across_um=36 * IN, along_um=18 * IN, border=read_order("2 B"))
    assert not turned(try_plan(plan, {})).orders_turned
