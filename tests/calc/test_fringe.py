"""Fringes: shared between pieces, the outer two from the loom waste."""

from fractions import Fraction

import pytest

from stash.calc.errors import CalcError
from stash.calc.fringe import Fringe
from stash.calc.needs import work_out
from stash.calc.warp import pieces_from_warp
from tests.calc.plans import IN, a_plan

pytestmark = pytest.mark.once

FRINGE = Fringe(finished_um=4 * IN, loss=Fraction(1, 5), twisted=True, knot_um=3 * IN)


def test_the_loss_of_a_fringe_is_divided_out():
    assert FRINGE.on_loom_um == 5 * IN


def test_two_fringes_lie_between_two_pieces_whatever_the_gap_says():
    length = work_out(a_plan(fringe=FRINGE, gap_um=IN, waste_um=30 * IN, waste_front_um=15 * IN)).length
    assert length.gaps_um == 3 * 10 * IN
    assert length.fringe_excess_um == 0
    assert length.exact_um == 4 * 20 * IN + 30 * IN + 30 * IN


def test_an_outer_fringe_needs_what_the_waste_at_its_end_does_not_give():
    """Fringe and knot are 8 in; of 20 in of waste 6 lie in front, so 2 in are added there and none at the back."""
    length = work_out(a_plan(fringe=FRINGE, waste_um=20 * IN, waste_front_um=6 * IN)).length
    assert length.fringe_excess_um == 2 * IN
    assert length.exact_um == (80 + 30 + 20 + 2) * IN


def test_without_waste_both_outer_fringes_are_added():
    assert a_plan(fringe=FRINGE).fringe_excess_um == 16 * IN


def test_no_fringe_needs_nothing_beyond_the_waste():
    assert a_plan(fringe=Fringe(knot_um=3 * IN)).fringe_excess_um == 0
    assert a_plan(gap_um=IN).between_um == IN


def test_the_warp_of_fringed_pieces_turned_round_gives_the_pieces_planned():
    plan = a_plan(fringe=FRINGE, waste_um=20 * IN, waste_front_um=6 * IN)
    exact = work_out(plan).length.exact_um
    assert pieces_from_warp(plan, exact) == 4
    assert pieces_from_warp(plan, exact - 1) == 3


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"finished_um": -1}, "fringe_um"),
        ({"loss": Fraction(1)}, "fringe_loss"),
        ({"loss": Fraction(-1, 100)}, "fringe_loss"),
        ({"knot_um": -1}, "fringe_knot_um"),
    ],
)
def test_a_fringe_that_cannot_be_names_its_figure(values, field):
    with pytest.raises(CalcError) as refused:
        Fringe(**{"finished_um": IN} | values)
    assert refused.value.field == field


def test_more_waste_in_front_than_there_is_at_all_is_refused():
    with pytest.raises(CalcError) as refused:
        a_plan(fringe=FRINGE, waste_um=IN, waste_front_um=2 * IN)
    assert refused.value.field == "waste_front_um"
