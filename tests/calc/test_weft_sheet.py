"""The weft sheet: blocks as they are written, the length after each, marks on the tape, and bobbins."""

from fractions import Fraction

import pytest
from hypothesis import given, settings

from stash.calc.bobbins import bobbins_for
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.needs import work_out
from stash.calc.weft_sheet import sheet_of, tape_marks
from tests.calc.plans import IN, a_plan, plans

pytestmark = pytest.mark.once


def rows_of(**changes):
    return [row.text for section in sheet_of(work_out(a_plan(**changes)).weft) for row in section.rows]


def test_two_wefts_that_alternate_are_one_row():
    assert rows_of() == ["100 times (1 A, 1 B)"]


def test_a_block_is_what_the_order_writes_as_one_item():
    order = read_order("2 times (8 times (1 A, 1 B), 8 times (1 B, 1 A)), 2 A", word="picks")
    assert rows_of(pick_order=order, along_um=67 * IN // 10)[:3] == [
        "2 times (8 times (1 A, 1 B), 8 times (1 B, 1 A))", "2 A", "1 A",
    ]  # fmt: skip


def test_the_length_to_here_goes_by_picks():
    (section,) = sheet_of(work_out(a_plan(pick_order=read_order("30 A, 170 B"))).weft)
    assert [row.woven_to_here_um for row in section.rows] == [3 * IN, 20 * IN]
    assert [row.picks_to_here for row in section.rows] == [30, 200]


def test_hems_stand_apart_from_the_body():
    sections = sheet_of(work_out(a_plan(hem_um=2 * IN)).weft)
    assert [(section.part, section.picks) for section in sections] == [
        ("hem", 10),
        ("body", 200),
        ("hem", 10),
    ]


@given(plans())
@settings(max_examples=60)
def test_the_rows_together_are_the_picks_of_a_piece(plan):
    weft = work_out(plan).weft
    rows = [row for section in sheet_of(weft) for row in section.rows]
    assert sum(row.picks for row in rows) == weft.picks_per_piece == rows[-1].picks_to_here
    assert [row.woven_to_here_um for row in rows] == sorted(row.woven_to_here_um for row in rows)


def test_the_tape_is_marked_with_the_gaps_between_the_pieces():
    marks = tape_marks(3, Fraction(20 * IN), IN, before_um=2 * IN)
    assert [(mark.begins_um // IN, mark.ends_um // IN) for mark in marks] == [(2, 22), (23, 43), (44, 64)]


def test_our_own_worked_case_bobbins_of_a_towel():
    """Our own worked case S14 (invented): 40.7 g of body weft in a towel, 11 g to a bobbin, six towels."""
    grist = Grist.from_yd_per_lb(3000)
    pick_um = Fraction(15500, 1000) * IN * Fraction(107, 100)
    found = bobbins_for("A", 585 * pick_um, grist, 11_000, pieces=6)
    assert round(float(found.mass_mg) / 1000, 1) == 40.7
    assert (found.per_piece, found.in_all) == (4, 24)
    # The wrong answer that the case warns of: bobbins from the total weight.
    assert -(-6 * found.mass_mg // 11_000) == 23


def test_a_bobbin_holds_more_than_nothing():
    with pytest.raises(CalcError) as caught:
        bobbins_for("A", Fraction(IN), Grist.from_yd_per_lb(3000), 0, 1)
    assert caught.value.field == "bobbin"


def test_picks_of_a_hem_in_a_finer_yarn_have_a_length_of_their_own():
    from stash.calc.hems import Hem

    hem = Hem(picks=Density(Fraction(20)), pick_order=read_order("1 B"))
    sections = sheet_of(work_out(a_plan(hem_um=2 * IN, hem=hem, pick_order=read_order("1 A"))).weft)
    assert [section.rows[-1].woven_to_here_um for section in sections] == [IN, 21 * IN, 22 * IN]
    assert [section.rows[-1].text for section in sections] == [
        "20 times (1 B)",
        "200 times (1 A)",
        "20 times (1 B)",
    ]
