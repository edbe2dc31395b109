"""What is left of a package, at what it cost."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.cost import cost_left
from stash.calc.errors import CalcError

pytestmark = pytest.mark.once

mass = st.integers(0, 10**10)


def test_half_a_cone_is_worth_half_its_price():
    assert cost_left(1850, 250_000, 500_000) == 925


def test_it_is_exact_until_the_sum_is_rounded():
    assert sum(cost_left(100, 1, 3) for _ in range(3)) == 100
    assert cost_left(100, 1, 3) == Fraction(100, 3)


def test_a_cone_that_weighs_more_than_it_came_with_is_worth_its_price():
    assert cost_left(1850, 510_000, 500_000) == 1850


@given(st.integers(0, 10**9), mass, mass.filter(bool))
def test_it_is_never_more_than_was_paid(price, left, whole):
    assert 0 <= cost_left(price, left, whole) <= price


@pytest.mark.parametrize(
    ("facts", "field"),
    [((-1, 1, 1), "price_cents"), ((1, -1, 1), "left_mg"), ((1, 1, 0), "whole_mg")],
)
def test_what_cannot_be_is_refused(facts, field):
    with pytest.raises(CalcError) as refused:
        cost_left(*facts)
    assert refused.value.field == field
