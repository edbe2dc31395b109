"""Sleys: the even spread, dents used, and a sley read from its text."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.density import UM_PER_10_CM, Density
from stash.calc.errors import CalcError
from stash.calc.sley import Sley, Sleyed, centre, read_sley

pytestmark = pytest.mark.once
IN = 25_400
SLEYS = st.integers(1, 12).flatmap(lambda d: st.builds(Sley, st.integers(1, 4 * d), st.just(d)))


@pytest.mark.parametrize(
    ("ends", "dents", "text"),
    [
        (9, 5, "1-2-2-2-2"),
        (6, 5, "1-1-1-1-2"),
        (1, 2, "0-1"),
        (8, 5, "1-2-1-2-2"),
        (4, 2, "2"),
        (3, 5, "0-1-0-1-1"),
    ],
)
def test_ends_are_spread_evenly_over_the_repeat_in_lowest_terms(ends, dents, text):
    assert Sley(ends, dents).text == text
    assert read_sley(text) == Sley(ends, dents)


@given(SLEYS, st.integers(0, 400), st.booleans())
def test_the_dents_used_hold_every_place_once(sley, places, floating):
    places += 2 * floating
    held = sley.in_dents(places, floating)
    assert sum(held) == places
    assert len(held) == sley.dents_used(places, floating)


@given(SLEYS)
def test_neighbouring_dents_differ_by_one_end_at_most(sley):
    assert max(sley.pattern) - min(sley.pattern) <= 1
    assert sum(sley.pattern) == sley.ends


def test_a_floating_selvedge_has_a_dent_of_its_own_at_either_edge():
    sley = read_sley("2")
    assert sley.in_dents(12) == (2,) * 6
    assert sley.in_dents(12, floating=True) == (1, 2, 2, 2, 2, 2, 1)


def test_a_last_dent_may_hold_fewer_than_the_repeat_gives_it():
    assert read_sley("2-2-3").in_dents(9) == (2, 2, 3, 2)
    assert read_sley("0-1-1").in_dents(3) == (0, 1, 1, 0, 1)


def test_a_metric_reed_counts_by_its_true_figure():
    reed = Density(Fraction(50), UM_PER_10_CM)
    sleyed = Sleyed(reed, read_sley("1-2"))
    assert sleyed.sett.count == 75
    assert sleyed.sett.number_in(IN) == Fraction("19.05")
    assert sleyed.width_um(324, floating=False) == 432_000


def test_a_warp_is_centred_in_its_reed():
    found = centre(Density(Fraction(12)), 24 * IN, 180)
    assert (found.dents, found.first, found.left_of_centre) == (288, 55, 90)
    with pytest.raises(CalcError, match="289 dents; this reed has 288") as caught:
        centre(Density(Fraction(12)), 24 * IN, 289)
    assert caught.value.field == "reed"


@pytest.mark.parametrize(
    "text", ["", "a", "1-", "4-1", "1,2", "5", "0", "99", "1-1-2-2", "1" + "-1" * 50, "²"]
)
def test_what_is_no_even_sley_is_refused_with_a_sentence(text):
    with pytest.raises(CalcError) as caught:
        read_sley(text)
    assert caught.value.field == "sley"


def test_the_sentence_names_the_even_spread():
    with pytest.raises(CalcError, match="3-1-2 does not spread its ends evenly; 2 does"):
        read_sley("3-1-2")
