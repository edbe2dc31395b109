"""Money: whole cents, read as people write prices."""

from __future__ import annotations

from fractions import Fraction

from stash.calc.errors import CalcError
from stash.calc.scanner import Scanner
from stash.calc.writing import decimal

MOST_CENTS = 100_000_000


def read_price(text: str, currency: str = "EUR") -> int:
    """Whole cents of a price such as 12.50 or 12,50, with the currency's code or without. Raises CalcError."""
    scan = Scanner(text, f"a price such as 12.50 or 12,50 in {currency}")
    _currency(scan, currency)
    number = scan.number(fractions=False)
    _currency(scan, currency)
    scan.finish()
    cents = number.value * 100
    if cents.denominator != 1:
        raise CalcError("A price has at most two decimals.")
    if cents > MOST_CENTS:
        raise CalcError("That is more than 1,000,000. Check the figure.")
    return int(cents)


def write_price(cents: int, currency: str) -> str:
    """A price as people read it: 1,234.50 EUR."""
    return f"{decimal(Fraction(cents, 100), 2)} {currency}"


def _currency(scan: Scanner, code: str) -> None:
    """Step over the currency's code if it comes next; no other word stands there."""
    at = scan.at
    word = scan.word()
    if len(word) == 3 and word != code.lower() and word.upper() in scan.text:
        raise CalcError(f"{word.upper()} is another currency. Give the price in {code}.", position=at + 1)
    if word and word != code.lower():
        raise scan.error(f"“{word}” cannot be read here. Give {scan.wanted}.", at)


def shared(cents: int, count: int) -> list[int]:
    """A price for several shared among them in whole cents: the first ones carry what is left over."""
    each, more = divmod(cents, count)
    return [each + (place < more) for place in range(count)]
