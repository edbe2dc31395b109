"""Reads numbers and words off a short typed text, from left to right, and says where it stopped.

Only ASCII digits and letters count, so digits of other scripts are refused, not taken for something else.
Every pattern is linear and the text at most 40 characters long: nothing typed can keep it busy.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from stash.calc.errors import CalcError

MOST_CHARACTERS = 40

SPACES = " \t\u00a0\u2009\u202f"  # plain, tab, no-break, thin, narrow no-break
DASHES = "-\u2010\u2011\u2012\u2013\u2014\u2212"
VULGAR_FRACTIONS = {
    "½": Fraction(1, 2),
    "⅓": Fraction(1, 3),
    "⅔": Fraction(2, 3),
    "¼": Fraction(1, 4),
    "¾": Fraction(3, 4),
    "⅕": Fraction(1, 5),
    "⅖": Fraction(2, 5),
    "⅗": Fraction(3, 5),
    "⅘": Fraction(4, 5),
    "⅙": Fraction(1, 6),
    "⅚": Fraction(5, 6),
    "⅐": Fraction(1, 7),
    "⅛": Fraction(1, 8),
    "⅜": Fraction(3, 8),
    "⅝": Fraction(5, 8),
    "⅞": Fraction(7, 8),
    "⅑": Fraction(1, 9),
    "⅒": Fraction(1, 10),
}

_SPACE = re.compile(f"[{SPACES}]*")
# Thousands in threes with a space between, unless the last three turn out to be the top of a fraction.
_WHOLE = re.compile(f"[0-9]{{1,3}}(?:[{SPACES}][0-9]{{3}})+(?![0-9/⁄])|[0-9]+")
_DECIMALS = re.compile(r"([.,])([0-9]+)")
_OVER = re.compile(r"[/⁄]([0-9]+)")
_MIXED = re.compile(f"(?:[{SPACES}]+|-)([0-9]+)[/⁄]([0-9]+)")
_VULGAR = re.compile(f"[{SPACES}]*([{''.join(VULGAR_FRACTIONS)}])")
_WORD = re.compile(r"[A-Za-z]+")
_NUMBER_AHEAD = re.compile(f"[0-9{''.join(VULGAR_FRACTIONS)}]|[.,][0-9]")


@dataclass(frozen=True, slots=True)
class Number:
    """A number as read: its exact value, the text it came from, the 0-based place where it began.

    `over` holds (top, bottom) when it was a bare fraction such as 70/10, which some fields read otherwise.
    """

    value: Fraction
    text: str
    start: int
    over: tuple[int, int] | None = None


def shown(character: str) -> str:
    """A character as an error message may show it: in quotation marks, or by its number if it is unseen."""
    if character.isprintable() and not character.isspace():
        return f"“{character}”"
    return f"An invisible character (U+{ord(character):04X})"


class Scanner:
    """A place in a typed text. Raises CalcError at once for text that is empty or too long.

    `wanted` is a phrase with an example, put into messages: "a length such as 10 in".
    """

    def __init__(self, text: str, wanted: str) -> None:
        stripped = text.strip()
        self.wanted = wanted
        if not stripped:
            raise CalcError(f"Nothing was typed. Give {wanted}.")
        if len(stripped) > MOST_CHARACTERS:
            raise CalcError(
                f"This is longer than {MOST_CHARACTERS} characters. Give {wanted}.",
                position=MOST_CHARACTERS + 1,
            )
        self.text = text
        self.at = len(text) - len(text.lstrip())
        self.end = self.at + len(stripped)

    def error(self, message: str, at: int | None = None) -> CalcError:
        """The error to raise, pointing at the present place or at `at` (0-based)."""
        return CalcError(message, position=(self.at if at is None else at) + 1)

    def skip_spaces(self) -> None:
        found = _SPACE.match(self.text, self.at, self.end)
        if found:
            self.at = found.end()

    @property
    def finished(self) -> bool:
        return self.at >= self.end

    @property
    def next(self) -> str:
        """The next character, "" at the end."""
        return "" if self.finished else self.text[self.at]

    def take(self, *marks: str) -> str:
        """Step over the first of `marks` that comes next, spaces before it ignored; "" if none does."""
        before = self.at
        self.skip_spaces()
        for mark in marks:
            if self.text.startswith(mark, self.at, self.end):
                self.at += len(mark)
                return mark
        self.at = before
        return ""

    def word(self) -> str:
        """Step over a word of ASCII letters and give it in lower case, "" if none comes next.

        A full stop that ends an abbreviation ("2 lb. 3 oz.") goes with it.
        """
        self.skip_spaces()
        found = _WORD.match(self.text, self.at, self.end)
        if not found:
            return ""
        self.at = found.end()
        if self.next == "." and not _DECIMALS.match(self.text, self.at, self.end):
            self.at += 1
        return found.group().lower()

    def number_ahead(self) -> bool:
        """True if a number, or the minus sign of one, comes next."""
        self.skip_spaces()
        return bool(_NUMBER_AHEAD.match(self.text, self.at, self.end)) or self.next in set(DASHES)

    def number(self, *, fractions: bool = True) -> Number:
        """Step over a number: 2, 1 000, 2.5, 2,5, .5, 3/8, 1 1/2, 1-1/2, ½, 1½.

        With `fractions` false a bare 8/2 is left as 8 (a yarn count); 3 1/4 is still read whole.
        Raises CalcError for a minus sign, for 1,234 and for what is no number.
        """
        self.skip_spaces()
        start = self.at
        if self.finished:
            raise self.error(f"A number is missing at the end. Give {self.wanted}.")
        if self.next in set(DASHES):
            raise self.error(
                "An amount cannot be less than nothing, nor a range. Give one amount, without a dash."
            )
        value, over = self._value(fractions)
        return Number(value, self.text[start : self.at], start, over)

    def _value(self, fractions: bool) -> tuple[Fraction, tuple[int, int] | None]:
        start = self.at
        whole = _WHOLE.match(self.text, self.at, self.end)
        if whole:
            self.at = whole.end()
        digits = whole.group() if whole else ""
        value = Fraction("".join(c for c in digits if c not in SPACES) or 0)
        decimals = _DECIMALS.match(self.text, self.at, self.end)
        if decimals:
            self._question_thousands(start, digits, decimals)
            self.at = decimals.end()
            self._no_second_number(start)
            return value + Fraction(int(decimals[2]), 10 ** len(decimals[2])), None
        vulgar = _VULGAR.match(self.text, self.at, self.end)
        if vulgar:
            self.at = vulgar.end()
            self._no_second_number(start)
            return value + VULGAR_FRACTIONS[vulgar[1]], None
        if not whole:
            raise self.error(f"{shown(self.next)} cannot be read as a number. Give {self.wanted}.")
        over = _OVER.match(self.text, self.at, self.end)
        if over and fractions:
            self.at = over.end()
            self._no_second_number(start)
            return self._fraction(int(digits), int(over[1]), start), (int(digits), int(over[1]))
        mixed = _MIXED.match(self.text, self.at, self.end)
        if mixed:
            top, bottom = int(mixed[1]), int(mixed[2])
            part = self._fraction(top, bottom, mixed.start(1))
            if not 0 < part < 1:
                raise self.error(
                    f"“{self.text[start : mixed.end()]}” can be read in more than one way: after a whole "
                    "number a fraction is less than one, as in 1 1/2.",
                    start,
                )
            self.at = mixed.end()
            self._no_second_number(start)
            return value + part, None
        self._no_second_number(start)
        return value, None

    def _fraction(self, top: int, bottom: int, at: int) -> Fraction:
        if bottom == 0:
            raise self.error("A fraction cannot have 0 below the line.", at)
        return Fraction(top, bottom)

    def _question_thousands(self, start: int, whole: str, decimals: re.Match[str]) -> None:
        """Refuse a number whose comma or points may mark thousands; only the person knows."""
        several = _DECIMALS.match(self.text, decimals.end(), self.end)
        written = self.text[start : several.end() if several else decimals.end()]
        if several:
            raise self.error(
                f"“{written}” has more than one comma or point. Write thousands without one, as in 1234.5.",
                start,
            )
        grouped = any(space in whole for space in SPACES)
        comma_may_group = 1 <= len(whole) <= 3 and whole[0] != "0" and not grouped
        if decimals[1] == "," and len(decimals[2]) == 3 and comma_may_group:
            raise self.error(
                f"Is “{written}” meant as {whole}{decimals[2]} or as {whole}.{decimals[2]}? "
                "Write it in that way, without the comma.",
                start,
            )

    def _no_second_number(self, start: int) -> None:
        ahead = _SPACE.match(self.text, self.at, self.end)
        at = ahead.end() if ahead else self.at
        if _NUMBER_AHEAD.match(self.text, at, self.end):
            raise self.error(
                "Two numbers stand side by side. Write thousands in threes (1 000), fractions like 1 1/2, "
                "and a unit after each number.",
                at,
            )

    def finish(self) -> None:
        """Raise CalcError unless the whole text has been read."""
        self.skip_spaces()
        if self.finished:
            return
        if self.next in set(DASHES):
            raise self.error("A minus sign or a range cannot be read here. Give one amount, without a dash.")
        raise self.error(f"{shown(self.next)} cannot be read here. Give {self.wanted}.")
