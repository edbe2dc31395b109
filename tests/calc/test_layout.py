"""The ends of a warp one by one: borders, balance, doubled and floating ends, heddles and places in the reed."""

from fractions import Fraction

import pytest
from hypothesis import given, settings

from stash.calc.colour_order import read_order
from stash.calc.errors import CalcError
from stash.calc.layout import lay_out
from stash.calc.needs import work_out
from stash.calc.selvedges import Selvedges
from stash.calc.width import work_width
from tests.calc.plans import IN, a_plan, whole_plans

pytestmark = pytest.mark.once

SIX = {"order": read_order("2 A, 1 B, 1 A, 1 B, 1 C"), "order_fills": False}


def keys(plan):
    return "".join(work_out(plan).warp_order.sequence())


def test_a_simple_warp_is_its_order_and_every_end_has_a_heddle_and_a_place():
    layout = work_out(a_plan(**SIX)).layout
    assert [(one.key, one.heddle, one.place) for one in layout.each()] == [
        (key, at, at) for at, key in enumerate("AABABC")
    ]
    assert (layout.ends, layout.heddles, layout.places, layout.pattern_ends) == (6, 6, 6, 6)


def test_a_floating_selvedge_stands_in_the_reed_and_in_no_heddle():
    plan = a_plan(**SIX, selvedges=Selvedges(floating=True))
    layout = work_out(plan).layout
    assert keys(plan) == "AAABABCC"
    assert [end.heddle for end in layout.each()] == [None, 0, 1, 2, 3, 4, 5, None]
    assert [end.place for end in layout.each()] == list(range(8))
    assert layout.heddle_keys() == tuple("AABABC")
    assert work_out(plan).width.in_reed_um == Fraction(8 * IN, 12)


def test_floating_ends_may_have_a_shade_of_their_own():
    plan = a_plan(**SIX, selvedges=Selvedges(floating=True, floating_key="F"))
    assert keys(plan) == "FAABABCF"
    assert {need.key: need.ends for need in work_out(plan).needs}["F"] == 2


@pytest.mark.parametrize(("way", "heddles", "places"), [("heddle", 6, 6), ("dent", 10, 6), ("apart", 10, 10)])
def test_doubled_ends_take_more_yarn_then_more_heddles_then_more_of_all(way, heddles, places):
    plan = a_plan(**SIX, selvedges=Selvedges(doubled_ends=2, doubled_way=way))
    worked = work_out(plan)
    assert keys(plan) == "AAAABABBCC"
    assert (worked.layout.ends, worked.layout.heddles, worked.layout.places) == (10, heddles, places)
    assert worked.width.in_reed_um == Fraction(places * IN, 12)
    assert worked.ends_by_key == {"A": 5, "B": 3, "C": 2}


def test_ends_doubled_in_heddle_and_dent_stand_where_the_end_beside_them_stands():
    plan = a_plan(**SIX, selvedges=Selvedges(floating=True, doubled_ends=1))
    layout = work_out(plan).layout
    assert [(end.key, end.part, end.heddle, end.place) for end in layout.each()][:4] == [
        ("A", "floating", None, 0),
        ("A", "body", 0, 1),
        ("A", "doubled", 0, 1),
        ("A", "body", 1, 2),
    ]
    assert layout.place_keys() == (("A",), ("A", "A"), ("A",), ("B",), ("A",), ("B",), ("C", "C"), ("C",))


def test_more_ends_cannot_be_doubled_than_there_are():
    with pytest.raises(CalcError) as refused:
        work_out(a_plan(**SIX, selvedges=Selvedges(doubled_ends=4)))
    assert refused.value.field == "doubled_ends"
    assert "3 on each side" in refused.value.message


def test_a_border_stands_left_and_mirrored_right_with_repeats_and_balance_between():
    plan = a_plan(
        across_um=3 * IN, border=read_order("2 C, 1 D"), order=read_order("2 A, 2 B"), balance_ends=2
    )
    worked = work_out(plan)
    assert keys(plan) == "CCD" + 7 * "AABB" + "AA" + "DCC"
    assert [(one.part, one.at, one.number) for one in worked.layout.stretches] == [
        ("border", 0, 3),
        ("body", 3, 28),
        ("balance", 31, 2),
        ("border", 33, 3),
    ]
    assert worked.width.ends == 36 == worked.width.target_ends


def test_borders_and_balance_are_taken_off_the_width_before_repeats_are_counted():
    """36 ends asked for, 6 of borders, 1 of balance: 29 / 4 is 8 repeats, 39 ends; odd totals stay odd."""
    plan = a_plan(across_um=3 * IN, border=read_order("3 C"), order=read_order("2 A, 2 B"), balance_ends=1)
    width = work_width(plan)
    assert (width.repeats, width.ends) == (8, 39)
    assert width.lower is not None
    assert width.lower.ends == 35


def test_a_border_beside_an_order_that_is_the_whole_warp_is_refused():
    with pytest.raises(CalcError) as refused:
        a_plan(**SIX, border=read_order("1 A"))
    assert refused.value.field == "border_order"


@given(whole_plans())
@settings(max_examples=100)
def test_every_end_is_counted_once_as_end_heddle_and_place(plan):
    worked = work_out(plan)
    ends, layout = list(worked.layout.each()), worked.layout
    assert [end.key for end in ends] == list(worked.warp_order.sequence())
    assert [end.number for end in ends] == list(range(layout.ends))
    assert layout.ends == worked.width.ends
    assert layout.places == worked.width.places == len({end.place for end in ends})
    assert layout.heddles == len({end.heddle for end in ends} - {None}) == len(layout.heddle_keys())
    assert sum(len(place) for place in layout.place_keys()) == layout.ends
    assert layout.pattern_ends == layout.ends - plan.selvedges.extra_ends


@given(whole_plans())
@settings(max_examples=60)
def test_the_stretches_follow_each_other_without_a_gap(plan):
    order, layout = lay_out(plan, work_width(plan).repeats)
    at = 0
    for stretch in layout.stretches:
        assert stretch.at == at
        at += stretch.number
    assert at == order.length
