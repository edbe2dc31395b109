"""Weft: whole picks, the length of a pick, and the tails where a shuttle begins."""

from fractions import Fraction
from itertools import cycle, islice

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.needs import work_out
from stash.calc.weft import weave
from tests.calc.plans import IN, a_plan, orders

pytestmark = pytest.mark.once


def tails(line, picks, carry=4):
    return weave(read_order(line), picks, carry).tails


def test_picks_of_a_piece_are_whole():
    weft = work_out(a_plan(pieces=3, along_um=20 * IN + 1, picks=Density(Fraction(10)), sample_um=IN)).weft
    assert (weft.picks_per_piece, weft.sample_picks, weft.total_picks) == (201, 10, 613)


def test_a_pick_is_the_width_in_the_reed_with_the_weft_take_up():
    weft = work_out(
        a_plan(across_um=14 * IN, losses_across=(Fraction(1, 8),), weft_take_up=Fraction(1, 10))
    ).weft
    assert weft.pick_um == Fraction(176, 10) * IN


def test_one_shade_has_one_tail_a_piece():
    assert tails("1 A", 200) == {"A": 1}


def test_pick_and_pick_carries_both_shuttles_along_the_selvedge():
    """Common practice, no source: otherwise every pick would cost a tail of 7 in."""
    assert tails("1 A, 1 B", 200) == {"A": 1, "B": 1}


def test_a_stripe_longer_than_is_carried_costs_a_tail_to_the_shade_that_begins():
    assert tails("10 A, 4 B", 28) == {"A": 1, "B": 2}
    assert tails("10 A, 5 B", 30) == {"A": 2, "B": 2}


def test_nothing_is_carried_where_the_plan_says_so():
    assert tails("1 A, 1 B", 200, carry=0) == {"A": 100, "B": 100}


def test_a_repeat_that_ends_as_it_begins_goes_on_without_a_tail():
    assert tails("5 A, 9 B, 5 A", 57) == {"A": 4, "B": 3}


def test_a_piece_shorter_than_the_order_holds_only_its_beginning():
    part = weave(read_order("10 A, 10 B, 10 C"), 15, 4)
    assert part.picks == {"A": 10, "B": 5}
    assert part.tails == {"A": 1, "B": 1}


def test_no_picks_have_no_tails():
    assert weave(read_order("1 A"), 0, 4).tails == {}


def test_the_pick_order_begins_anew_with_each_piece_and_with_the_sample():
    """3 picks of A B A B ...: two of A and one of B in every piece, not three and three in two pieces."""
    worked = work_out(
        a_plan(
            pieces=2,
            along_um=3 * IN,
            sample_um=IN,
            picks=Density(Fraction(1)),
            pick_order=read_order("1 A, 1 B"),
        )
    )
    assert [need.picks for need in worked.needs] == [5, 2]
    assert [need.tails for need in worked.needs] == [3, 2]


def test_a_tail_is_paid_by_every_piece():
    bare = work_out(a_plan(pieces=3, pick_order=read_order("20 A, 20 B")))
    tailed = work_out(a_plan(pieces=3, pick_order=read_order("20 A, 20 B"), tail_um=7 * IN))
    # 200 picks a piece: ten stripes, five of each shade.
    assert tailed.weft.changes_per_piece == 10
    for before, after in zip(bare.needs, tailed.needs, strict=True):
        assert after.tails == 15
        assert after.weft_um - before.weft_um == 15 * 7 * IN


def test_too_many_picks_name_the_length():
    with pytest.raises(CalcError) as caught:
        work_out(a_plan(along_um=900_000_000, picks=Density(Fraction(30), 25_400), pieces=1))
    assert caught.value.field == "along_um"


def test_too_many_picks_of_the_sample_name_the_sample():
    with pytest.raises(CalcError) as caught:
        work_out(a_plan(sample_um=900_000_000, picks=Density(Fraction(30), 25_400), pieces=1))
    assert caught.value.field == "sample_um"


def test_too_many_picks_in_all_name_the_pieces():
    with pytest.raises(CalcError) as caught:
        work_out(a_plan(pieces=10_000, along_um=990, picks=Density(Fraction(1000), 1)))
    assert caught.value.field == "pieces"


@given(orders, st.integers(0, 400), st.integers(0, 12))
@settings(max_examples=150)
def test_tails_by_runs_are_the_tails_counted_pick_by_pick(order, picks, carry):
    last: dict[str, int] = {}
    counted: dict[str, int] = {}
    for at, key in enumerate(islice(cycle(order.sequence()), picks)):
        if key not in last or at - last[key] - 1 > carry:
            counted[key] = counted.get(key, 0) + 1
        last[key] = at
    assert weave(order, picks, carry).tails == counted
