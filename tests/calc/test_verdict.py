"""Verdict: short, tight or enough, and what is missing. All figures invented."""

import pytest

from stash.calc.packing import Need
from stash.calc.verdict import Verdict, judge, worst
from tests.calc.plans import YD
from tests.calc.test_packing import WARP, YARD_A_GRAM, cone, need

pytestmark = pytest.mark.once


def judged(wanted: Need, *cones, pieces=1, keep_back=0):
    return judge(wanted, WARP, pieces, keep_back, YARD_A_GRAM, cones)


def test_with_the_buffer_there_is_enough():
    verdict = judged(need(ends=10, spare=1, piece=20, buffer=10), cone(1, 132))
    assert verdict.state is Verdict.ENOUGH
    assert (verdict.free_mg, verdict.free_um) == (132_000, 132 * YD)
    assert (verdict.short_ends, verdict.short_um, verdict.short_mass_mg) == (0, 0, 0)


@pytest.mark.parametrize("yards", [120, 131])
def test_without_the_buffer_it_is_tight(yards):
    assert judged(need(ends=10, spare=1, piece=20, buffer=10), cone(1, yards)).state is Verdict.TIGHT


def test_without_the_bare_need_it_is_short_by_so_much():
    verdict = judged(need(ends=10, spare=1, piece=20), cone(1, 95))
    assert verdict.state is Verdict.SHORT
    assert (verdict.short_ends, verdict.short_warp_um, verdict.short_weft_um) == (1, 10 * YD, 15 * YD)
    assert verdict.short_um == 25 * YD
    assert verdict.short_weft_new_lot_um == 20 * YD
    assert verdict.short_mass_mg == 25_000


def test_enough_yarn_in_too_many_pieces_is_short():
    """121 yd are free and 120 are needed, but no cone gives a tenth end."""
    verdict = judged(need(ends=12), *(cone(number, 11 if number else 22, lot=1) for number in range(10)))
    assert (verdict.state, verdict.free_um) == (Verdict.SHORT, 121 * YD)
    assert verdict.short_ends == 1


def test_mixed_lots_are_said_beside_the_verdict():
    verdict = judged(need(ends=12), cone(1, 100, lot=1), cone(2, 50, lot=2))
    assert (verdict.state, verdict.lots_mixed) == (Verdict.ENOUGH, True)
    assert not judged(need(ends=10), cone(1, 100, lot=1), cone(2, 50, lot=2)).lots_mixed


def test_weft_of_another_lot_is_said():
    verdict = judged(need(ends=10, piece=45), cone(1, 100, lot=1), cone(2, 50, lot=2))
    assert (verdict.state, verdict.weft_other_lot, verdict.weft_lots) == (Verdict.ENOUGH, True, 1)
    assert not judged(need(piece=45), cone(1, 100, lot=1)).weft_other_lot


def test_a_projects_verdict_is_its_worst_shades():
    enough, tight = judged(need(ends=1), cone(1, 10)), judged(need(ends=1, spare=1), cone(1, 10))
    short = judged(need(ends=1))
    assert worst([enough, tight]) is Verdict.TIGHT
    assert worst([enough, short, tight]) is Verdict.SHORT
    assert worst([]) is Verdict.ENOUGH
