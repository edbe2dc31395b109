"""Whole put-ups with minimums and breaks, terms of suppliers, and orders put together."""

from fractions import Fraction
from itertools import product

import pytest

from stash.calc.errors import CalcError
from stash.calc.outlook import UsualUse
from stash.calc.reorder.consolidating import all_cost, consolidate
from stash.calc.reorder.put_ups import Keeping, Offered, Why, count
from stash.calc.reorder.terms import Terms

CONE = Offered(1, 1, 250_000, price_cents=1_200, least=2, breaks=((6, 1_000), (12, 900)))


def test_no_fewer_than_are_sold():
    assert count(CONE, 1).steps == ((Why.NEEDED, 1), (Why.LEAST, 2))
    assert count(CONE, 3).steps == ((Why.NEEDED, 3),)


def test_a_break_is_taken_where_all_of_it_costs_less():
    """Five at 12 are 60; six at 10 are 60 as well, which is no reason for one more."""
    assert count(CONE, 5).number == 5
    cheaper = Offered(1, 1, 250_000, price_cents=1_200, breaks=((6, 990),))
    found = count(cheaper, 5)
    assert found.number == 6 and found.saved_cents == 6_000 - 5_940 and found.steps[-1] == (Why.BREAK, 6)
    assert count(cheaper, 4).number == 4


def test_one_more_for_the_lot_comes_before_the_break():
    assert count(CONE, 4, one_more=True).steps == ((Why.NEEDED, 4), (Why.ONE_MORE, 5))


def test_the_economic_number_where_its_costs_are_known():
    use = UsualUse(week_mg=60_000, sd_mg=0, weeks=52, times=40)
    keeping = Keeping(1_500, Fraction(1, 4))
    found = count(Offered(1, 1, 250_000, price_cents=1_200), 1, use=use, keeping=keeping)
    # 12.5 put-ups a year: the root of 2 x 12.5 x 15 / 3 is 11.2.
    assert found.number == 11 and found.steps[-1] == (Why.ECONOMIC, 11)
    assert count(Offered(1, 1, 250_000), 1, use=use, keeping=keeping).number == 1


def test_an_unknown_price_costs_nothing_that_is_known():
    found = count(Offered(1, 1, 250_000, breaks=((4, 900),)), 3)
    assert found.number == 3 and found.cost_cents is None


@pytest.mark.parametrize("facts", [{"mass_mg": 0}, {"mass_mg": 5, "least": 0}])
def test_a_put_up_weighs_something(facts):
    with pytest.raises(CalcError):
        Offered(1, 1, **facts)


def test_terms():
    terms = Terms(minimum_cents=3_000, carriage_cents=600, free_from_cents=10_000)
    assert terms.under_minimum(1_760) == 1_240 and terms.under_minimum(3_000) == 0
    assert terms.carriage_of(9_999) == 600 and terms.carriage_of(10_000) == 0
    assert terms.under_free(8_000) == 2_000 and Terms().under_free(5) == 0


def offers(*prices: tuple[int, int]):
    """One put-up each of (supplier, price)."""
    return [
        count(Offered(10 * supplier + at, supplier, 1_000, price_cents=price), 1)
        for at, (supplier, price) in enumerate(prices)
    ]


def test_two_shades_share_one_parcel_where_carriage_is_dearer_than_the_difference():
    choices = {1: offers((1, 1_000)), 2: offers((1, 1_100), (2, 1_000))}
    parcels = {1: Terms(carriage_cents=500), 2: Terms(carriage_cents=500)}
    assert consolidate(choices, parcels)[2].offered.supplier_id == 1
    assert consolidate(choices, {})[2].offered.supplier_id == 2


def test_an_order_that_is_being_written_pays_its_carriage_anyway():
    choices = {1: offers((1, 1_100), (2, 1_000))}
    terms = {1: Terms(carriage_cents=500), 2: Terms(carriage_cents=500)}
    assert consolidate(choices, terms)[1].offered.supplier_id == 2
    assert consolidate(choices, terms, begun={1: 2_000})[1].offered.supplier_id == 1


def test_orders_together_cost_no_more_than_each_shade_at_its_cheapest_and_nearly_always_the_least():
    """Three shades of three suppliers, all prices from a few: held against every assignment."""
    terms = {
        1: Terms(carriage_cents=400),
        2: Terms(minimum_cents=2_500, carriage_cents=200),
        3: Terms(carriage_cents=900, free_from_cents=2_000),
    }
    best = worse = 0
    for prices in product((700, 1_000, 1_300), repeat=5):
        a, b, c, d, e = prices
        choices = {1: offers((1, a), (2, b)), 2: offers((2, c), (3, d)), 3: offers((1, e), (3, 1_000))}
        found = all_cost(consolidate(choices, terms), terms, {})
        least = min(
            all_cost(dict(zip(choices, picked, strict=True)), terms, {})
            for picked in product(*choices.values())
        )
        apart = {key: min(one, key=lambda each: each.cost_cents) for key, one in choices.items()}
        assert least <= found <= all_cost(apart, terms, {})
        best, worse = best + (found == least), worse + (found > least)
    assert best > 9 * worse
