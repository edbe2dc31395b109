"""Spans of days as people say them: `18`, `18 days`, `2 weeks`, `2 weeks 3 days`. Months differ, so none is read."""

from __future__ import annotations

from fractions import Fraction

from stash.calc.errors import CalcError
from stash.calc.scanner import Scanner

_SIZE = {"d": 1, "day": 1, "days": 1, "w": 7, "wk": 7, "wks": 7, "week": 7, "weeks": 7}
_VAGUE = {"month", "months", "year", "years", "quarter", "quarters", "fortnight", "fortnights"}
WANTED = "a time such as 18 days or 2 weeks"


def read_days(text: str, *, most: int = 730) -> int:
    """Whole days of a typed time, at most `most`; a bare number is days. Raises CalcError naming what it cannot read.

    Weeks may come in fractions (1 1/2 weeks) where whole days come of it; a week and a rest in days add up.
    """
    scan = Scanner(text, WANTED)
    total, last = Fraction(0), 8
    while True:
        number = scan.number()
        at = scan.at
        word = scan.word()
        if word in _VAGUE:
            raise scan.error(f"“{word}” is not a sure number of days. Give days or weeks.", at)
        if word and word not in _SIZE:
            raise scan.error(f"“{word}” cannot be read here. Give {WANTED}.", at)
        size = _SIZE[word] if word else 1
        if size >= last:
            raise scan.error(f"Give the weeks first, then the days: {WANTED}.", number.start)
        total, last = total + number.value * size, size
        if not scan.number_ahead():
            break
    scan.finish()
    if total.denominator != 1:
        raise CalcError("That is no whole number of days. Give whole days.")
    if total > most:
        raise CalcError(f"That is more than {most} days. Check the figure.")
    return int(total)


def write_days(days: int) -> str:
    """Text that `read_days` reads back, as people say it: 18 days, 2 weeks."""
    if days and days % 7 == 0:
        weeks = days // 7
        return "1 week" if weeks == 1 else f"{weeks} weeks"
    return "1 day" if days == 1 else f"{days} days"
