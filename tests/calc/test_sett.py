"""Sett as advice, and whether a warp is too wide."""

from fractions import Fraction

import pytest

from stash.calc.draft import read_draft
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.loom_room import Room
from stash.calc.sett import advise_sett, closest_sett, diameters_per_inch, intersections_of
from stash.calc.structure import structures

pytestmark = pytest.mark.once
IN = 25_400


def test_diameters_closest_cloth_and_soft_hand_follow_each_other():
    found = advise_sett(Grist.from_yd_per_lb(Fraction(3600)), ends=4, intersections=2, k=Fraction(1))
    assert found.diameters == 60
    assert found.closest.count == 40
    assert found.soft.count == 32


def test_intersections_are_those_of_the_structure_and_of_a_draft_typed_alike():
    for weave in structures().values():
        assert intersections_of(weave) == weave.intersections
    assert intersections_of(read_draft("1-4", lift_plan="1+2, 2+3, 3+4, 1+4")) == 2


@pytest.mark.parametrize("k", [Fraction(4, 10), Fraction(16, 10)])
def test_a_k_beyond_any_yarn_is_refused(k):
    with pytest.raises(CalcError, match="Give K from") as caught:
        diameters_per_inch(Grist.from_yd_per_lb(Fraction(3600)), k)
    assert caught.value.field == "k"


def test_a_structure_that_never_changes_sides_and_no_share_are_refused():
    with pytest.raises(CalcError):
        closest_sett(Fraction(60), 4, 0)
    with pytest.raises(CalcError):
        advise_sett(Grist.from_yd_per_lb(Fraction(3600)), 2, 2, share=Fraction(0))


@pytest.mark.parametrize(
    ("quarters", "fits"), [(78, "wide enough"), (79, "barely"), (80, "barely"), (81, "too wide")]
)
def test_less_than_a_quarter_inch_at_each_side_is_barely_wide_enough(quarters, fits):
    room = Room(Fraction(quarters * IN, 4), 20 * IN)
    assert room.fits == fits
    assert room.clearance_um == (20 * IN - Fraction(quarters * IN, 4)) / 2


def test_the_widest_piece_leaves_clearance_and_loses_what_the_plan_loses():
    assert Room(Fraction(IN), 20 * IN + IN // 2).ceiling_um((Fraction(1, 10), Fraction(1, 10))) == Fraction(
        81 * 20 * IN, 100
    )
