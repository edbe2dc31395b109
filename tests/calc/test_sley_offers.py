"""Which sleys are offered for a sett, in which order, and where shades might streak."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.colour_order import read_order
from stash.calc.density import UM_PER_10_CM, Density
from stash.calc.sley import Sley, read_sley
from stash.calc.sley_offers import NEAR, offers, streak_period

pytestmark = pytest.mark.once


def inch(number):
    return Density(Fraction(number))


def texts(found):
    return [(offer.reed_key, offer.sley.text) for offer in found]


def test_exact_comes_before_near_and_a_short_repeat_before_a_long_one():
    found = offers(inch(18), [(8, inch(8)), (9, inch(9)), (15, inch(15))])
    assert texts(found)[:4] == [(9, "2"), (8, "2-2-2-3"), (15, "1-1-1-1-2"), (8, "2-2-2-2-3")]
    assert [offer.close for offer in found[:4]] == ["exact", "exact", "exact", "same"]


def test_one_and_two_ends_in_a_dent_come_before_three():
    assert texts(offers(inch(24), [(8, inch(8)), (12, inch(12))]))[:2] == [(12, "2"), (8, "3")]


def test_beyond_five_percent_and_over_four_in_a_dent_nothing_is_offered():
    assert offers(inch(60), [(12, inch(12))]) == []
    assert all(offer.sley.fullest <= 4 for offer in offers(inch(47), [(12, inch(12))]))


def test_a_metric_reed_is_no_inch_reed_of_the_same_everyday_name():
    found = offers(inch(12), [(50, Density(Fraction(50), UM_PER_10_CM))])
    assert "1" not in [offer.sley.text for offer in found]


@given(st.fractions(2, 80, max_denominator=8), st.lists(st.integers(4, 20), min_size=1, max_size=4))
def test_every_offer_reaches_the_sett_it_says(sett, reeds):
    found = offers(inch(sett), [(reed, inch(reed)) for reed in reeds])
    assert found == sorted(found, key=lambda offer: offer.rank)
    for offer in found:
        assert offer.sett.count == sett * (1 + offer.off)
        assert abs(offer.off) <= NEAR


def test_two_shades_in_turn_streak_where_pairs_in_a_dent_change():
    order = read_order("1 A, 1 B")
    assert streak_period(read_sley("1-2"), order) == 6
    assert streak_period(read_sley("1-1-2"), order) == 0
    assert streak_period(read_sley("2"), order) == 0


def test_long_orders_and_one_shade_hide_an_uneven_sley():
    assert streak_period(Sley(3, 2), read_order("1 A")) == 0
    assert streak_period(Sley(3, 2), read_order("12 A, 6 B")) == 0
    assert streak_period(Sley(3, 2), read_order("40 times (1 A, 1 B)")) == 6
