"""Hems: the cloth of every kind, and a hem with picks and shades of its own."""

from fractions import Fraction

import pytest

from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.fringe import Fringe
from stash.calc.hems import Hem
from stash.calc.needs import work_out
from tests.calc.plans import IN, a_plan

pytestmark = pytest.mark.once

THREE_QUARTERS, HALF = 3 * IN // 4, IN // 2


@pytest.mark.parametrize(
    ("kind", "depth", "fold", "cloth"),
    [
        ("single", THREE_QUARTERS, 0, IN),
        ("double", 3 * IN // 8, 0, THREE_QUARTERS),
        ("small", THREE_QUARTERS, HALF, 5 * IN // 4),
        ("strip", HALF, 0, HALF),
    ],
)
def test_the_cloth_of_a_hem_at_one_end(kind, depth, fold, cloth):
    """Common practice: folded once depth + 1/4 in, turned twice 2 x depth, with a small fold depth + fold."""
    plan = a_plan(hem=Hem(kind, depth, fold))
    assert plan.hem_cloth_um == 2 * cloth
    assert work_out(plan).length.hem_woven_um == cloth
    assert work_out(plan).length.woven_um == 20 * IN + 2 * cloth


def test_the_cloth_as_given_may_be_an_odd_number_of_um():
    plan = a_plan(hem_um=3)
    assert plan.hem_cloth_um == 3
    assert work_out(plan).length.woven_um == 20 * IN + 3


def test_no_depth_is_no_hem():
    for kind in ("given", "single", "double", "small", "strip"):
        assert a_plan(hem=Hem(kind)).hem_cloth_um == 0


def test_hem_cloth_is_added_before_the_loss_is_divided_out():
    plan = a_plan(hem=Hem("double", IN), losses_along=(Fraction(1, 5),))
    assert work_out(plan).length.woven_um == Fraction(24, 4) * 5 * IN


def test_a_hem_without_picks_or_order_of_its_own_is_counted_with_the_body():
    """23.15 in at 10 picks to the inch: 232, not twice ceil(15.75) and 200."""
    weft = work_out(a_plan(hem=Hem("double", 63 * IN // 80))).weft
    assert weft.picks_per_piece == 232
    assert [section.part for section in weft.sections] == ["hem", "body", "hem"]
    assert sum(section.picks for section in weft.sections) == 232
    assert weft.piece == work_out(a_plan(hem_um=63 * IN // 20)).weft.piece


def test_a_hem_with_picks_of_its_own_rounds_each_section_up():
    """Our own worked case: hems of 1.65 in at 32 picks, a body of 20.05 in at 10."""
    hem = Hem("strip", 33 * IN // 20, picks=Density(Fraction(32)))
    weft = work_out(a_plan(hem=hem, along_um=401 * IN // 20)).weft
    assert [(one.part, one.picks) for one in weft.sections] == [("hem", 53), ("body", 201), ("hem", 53)]


def test_a_hem_of_its_own_shade_takes_its_picks_from_that_shade_and_begins_with_a_tail():
    hem = Hem("double", IN, pick_order=read_order("1 H"))
    worked = work_out(a_plan(hem=hem, pieces=3, tail_um=7 * IN))
    assert worked.weft.piece.picks == {"A": 100, "B": 100, "H": 40}
    assert worked.weft.piece.tails == {"H": 2, "A": 1, "B": 1}
    need = {need.key: need for need in worked.needs}["H"]
    assert (need.ends, need.picks, need.tails) == (0, 120, 6)


def test_hem_and_body_of_one_shade_go_on_without_a_new_tail():
    hem = Hem("double", IN, pick_order=read_order("1 A"))
    assert work_out(a_plan(hem=hem, pick_order=read_order("1 A"))).weft.piece.tails == {"A": 1}


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"hem": Hem("double", 11 * IN)}, "hem_depth_um"),
        ({"hem_um": 41 * IN}, "hem_um"),
        ({"hem_um": IN, "fringe": Fringe(IN)}, "fringe_um"),
    ],
)
def test_hems_that_cannot_be_say_which_figure_to_change(changes, field):
    with pytest.raises(CalcError) as refused:
        a_plan(**changes)
    assert refused.value.field == field


@pytest.mark.parametrize("name", ["depth_um", "fold_um"])
def test_a_hem_is_not_below_nothing(name):
    with pytest.raises(CalcError) as refused:
        Hem("small", **{name: -1})
    assert refused.value.field == f"hem_{name}"
