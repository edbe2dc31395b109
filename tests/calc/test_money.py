"""Prices as people write them, in whole cents."""

import pytest

from stash.calc.errors import CalcError
from stash.calc.money import MOST_CENTS, read_price, shared, write_price


@pytest.mark.parametrize(
    ("text", "cents"),
    [
        ("12.50", 1250),
        ("12,50", 1250),
        ("12", 1200),
        ("0", 0),
        ("12.5 EUR", 1250),
        ("eur 7", 700),
        ("1 000", 100_000),
    ],
)
def test_a_price_is_read(text, cents):
    assert read_price(text) == cents


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12.505", "at most two decimals"),
        ("-3", "less than nothing"),
        ("12 USD", "USD is another currency. Give the price in EUR"),
        ("GBP 7", "GBP is another currency. Give the price in EUR"),
        ("12 each", "“each” cannot be read here"),
        ("1,234", "meant as 1234 or as 1.234"),
        ("1000000.01", "more than 1,000,000"),
        ("", "Nothing was typed"),
        ("dear", "cannot be read"),
    ],
)
def test_what_is_no_price_is_refused_in_words(text, says):
    with pytest.raises(CalcError, match=says):
        read_price(text)


@pytest.mark.parametrize(("cents", "count"), [(1000, 3), (0, 4), (7, 8), (MOST_CENTS, 7)])
def test_a_price_for_all_is_shared_without_losing_a_cent(cents, count):
    parts = shared(cents, count)
    assert sum(parts) == cents and len(parts) == count
    assert max(parts) - min(parts) <= 1


@pytest.mark.parametrize(("cents", "text"), [(0, "0.00 EUR"), (5, "0.05 EUR"), (123_450, "1,234.50 EUR")])
def test_a_price_is_written_with_its_currency(cents, text):
    assert write_price(cents, "EUR") == text
