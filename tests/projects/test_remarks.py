"""What is said beside a plan's figures, and what its figures open into. No database: shades go by their keys."""

from dataclasses import replace
from fractions import Fraction

import pytest

from projects.plan_words import NOTHING, groups
from projects.remarks import remarks
from projects.workings import figures
from stash.calc.accents import read_accents
from stash.calc.beams import Beam
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.fringe import Fringe
from stash.calc.hems import Hem
from stash.calc.needs import work_out
from stash.calc.selvedges import Selvedges
from stash.calc.writing import Measures
from tests.calc.plans import IN, YD, a_plan

pytestmark = pytest.mark.once

IMPERIAL = Measures()
SAME_EDGES = {"order": read_order("1 A"), "pick_order": read_order("1 A")}


def said(**changes):
    return list(remarks(work_out(a_plan(**SAME_EDGES | changes)), {}, IMPERIAL))


def steps(name, **changes):
    found = {one.name: one for one in figures(work_out(a_plan(**SAME_EDGES | changes)), IMPERIAL)}
    return {step.words: step.figure for step in found[name].steps}


def test_a_plan_as_asked_for_has_no_remark():
    assert said() == []


def test_a_repeat_wider_than_the_piece_says_what_to_change():
    (remark,) = said(order=read_order("200 A"))
    assert remark.startswith("One repeat alone is wider than asked: 16.67 in instead of 14.00 in.")


def test_borders_that_leave_no_room_for_a_repeat_are_told_too():
    (remark,) = said(border=read_order("100 A"))
    assert remark.startswith("One repeat with its borders and balance is wider than asked: 16.75 in")


def test_a_whole_warp_of_another_width_than_asked_says_both():
    (remark,) = said(order=read_order("120 A"), order_fills=False)
    assert remark.startswith("The order as written gives 10.00 in across; 14.00 in was asked for.")


def test_edges_of_two_shades_are_told_and_balance_mends_them():
    (remark,) = said(order=read_order("1 A, 1 B"))
    assert remark.startswith("The left edge is A, the right edge B.")
    assert said(order=read_order("1 A, 1 B"), balance_ends=1) == []


def test_accents_that_are_alike_are_told_together():
    alternating = {"order": read_order("84 times (1 A, 1 B)"), "order_fills": False}
    remark = said(**alternating, accents=read_accents("1 R after 30, 1 R after 60"), accent_way="added")[-1]
    assert remark == (
        "1 accent end of R, added after ends 30 and 60: later ends move on by one, in plain weave to the other "
        "shaft, so that the block flips there."
    )
    remark = said(**alternating, accents=read_accents("2 R at 33"))[-1]
    assert remark == "2 accent ends of R in the place of ends 33 to 34: all others keep their shafts."
    remark = said(**alternating, accents=read_accents("1 R after 0"), accent_way="added")[-1]
    assert "added before the first end" in remark


def test_whole_repeats_say_the_length_that_results():
    (remark,) = said(pick_order=read_order("12 A, 12 A"), whole_pick_repeats=True)
    assert (
        remark == "A piece comes to 21.60 in along the warp instead of 20.00 in: whole repeats of 24 picks."
    )


def test_outer_fringes_beyond_the_waste_are_told_and_stand_in_the_sum():
    fringe = Fringe(4 * IN, Fraction(1, 5), True, 3 * IN)
    changes = {"fringe": fringe, "waste_um": 20 * IN, "waste_front_um": 6 * IN}
    assert said(**changes)[-1].startswith("The outer fringes reach 2.00 in beyond the loom waste")
    parts = steps("Warp length", **changes)
    assert parts["3 gaps of two fringes, 10.00 in"] == "+ 30.00 in"
    assert parts["outer fringes, beyond the waste at their ends"] == "+ 2.00 in"


def test_what_the_board_buys_is_said_in_what_can_be_done_with_it():
    board = {"along_um": 20 * IN, "pieces": 1}
    assert "rounding up to the warping board buys, room for a further piece" in steps(
        "Warp length", **board, waste_um=18 * IN, board_um=2 * YD
    )
    assert "rounding up to the warping board buys, room for a sample of 10.00 in" in steps(
        "Warp length", **board, waste_um=6 * IN, board_um=YD
    )
    assert "rounding up to the warping board buys" in steps(
        "Warp length", **board, waste_um=15 * IN, board_um=YD
    )


def test_ends_open_into_borders_accents_doubled_and_floating_ones():
    parts = steps(
        "Ends",
        order=read_order("2 A"),
        border=read_order("3 C"),
        accents=read_accents("1 R in the middle"),
        accent_way="added",
        selvedges=Selvedges(True, "", 2, "heddle"),
    )
    assert parts["borders: twice 3 ends"] == "+ 6"
    assert parts["accents in addition"] == "+ 1"
    assert parts["doubled: 2 outermost ends on each side"] == "+ 4"
    assert parts["floating selvedges, in no heddle"] == "+ 2"
    assert parts["ends"] == "175"


def test_places_in_the_reed_are_told_where_ends_share_a_dent():
    parts = steps("Width in the reed", selvedges=Selvedges(doubled_ends=2))
    assert parts["ends that share a dent with the one beside them"] == "− 4"
    assert parts["places in the reed"] == "168"


def test_hem_body_and_hem_are_counted_apart_where_they_differ():
    hem = Hem("double", IN, picks=Density(Fraction(20)))
    parts = steps("Picks in one piece", hem=hem)
    assert parts["body: 20.00 in at 10 ppi"] == "200"
    assert parts["hem: 2.00 in at 20 ppi"] == "40"
    assert steps("Woven length of one piece", hem=hem)["hem cloth, both ends: hems of 1.00 in, turned twice"]


def test_each_beam_has_its_own_figure():
    worked = work_out(a_plan(order=read_order("1 A, 1 B"), beams=(Beam(2, Fraction(1, 4), ("B",)),)))
    names = [one.name for one in figures(worked, IMPERIAL)]
    assert "Warp length, beam 1" in names
    assert "Warp length, beam 2" in names


def test_like_warps_stand_in_the_sum_of_the_yarn():
    assert steps("Yarn in all, without buffer", warps=8)["like warps, each with its weft"] == "× 8"


def test_folds_say_nothing_is_set_or_what_is():
    plan = a_plan()
    assert groups(plan, IMPERIAL) == {
        "weft": NOTHING,
        "across": NOTHING,
        "several": "one warp, one beam",
    }
    plan = replace(plan, warps=3, beams=(Beam(2, Fraction(1, 8), ("B",)),), whole_pick_repeats=True)
    assert groups(plan, IMPERIAL)["several"] == "3 like warps; B on beam 2, take-up 12.5 %"
    assert groups(plan, IMPERIAL)["weft"] == "body in whole repeats"
