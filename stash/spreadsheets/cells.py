"""One cell to one value. What is a quantity is read by calc's own readers.

Every function raises CalcError whose message says what would be accepted. Dates are read both ways round;
which way 3/4/2024 is meant, and whether 1,250 is a thousand or one and a quarter, is decided once for all rows.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from functools import lru_cache

from stash.calc.counts import Count, CountSystem, read_count
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.money import read_price as read_cents
from stash.calc.quantity import UNIT_OF_WORD, half_up, read_grist, read_mass
from stash.spreadsheets.sheet import Cell

MOST_FIGURES = 15  # that spreadsheet programs keep of a number

_UNKNOWN = {
    "", "?", "??", "???", "-", "--", "–", "—", ".", "n/a", "na", "unknown", "not known", "none", "no lot",
    "unk", "n.a.", "tbd", "no", "x",
}  # fmt: skip


def text_of(cell: Cell) -> str:
    """A cell as text. A number has as many figures as a spreadsheet program keeps, and no exponent."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, int):
        return str(cell)
    return _decimal(f"{cell:.{MOST_FIGURES}g}")


def _decimal(text: str) -> str:
    written = format(Decimal(text), "f")
    return written.rstrip("0").rstrip(".") if "." in written else written


def is_unknown(text: str) -> bool:
    """True for what people write where they do not know: ?, -, n/a, unknown."""
    return text.casefold().strip() in _UNKNOWN


# --- Weights --------------------------------------------------------------------------------------------
_ABOUT = re.compile(
    r"(?:~|≈|±|about|abt\.?|approx\.?|approximately|ca?\.?|circa|roughly|est\.?)\s*(?=[\d.½¼¾])", re.I
)


@lru_cache(maxsize=20_000)
def read_weight(text: str, unit: str, commas: str = "") -> tuple[int, bool]:
    """Whole mg, and whether the cell says that it is an estimate (~200, ca. 200, about 200)."""
    found = _ABOUT.match(text.strip())
    rest = text.strip()[found.end() :] if found else text
    return read_mass(settled(rest, commas), unit), found is not None


# --- Commas ---------------------------------------------------------------------------------------------
_OPEN = re.compile(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d.,])")
_DECIMAL_COMMA = re.compile(r"\d,(?:\d{1,2}|\d{4,})(?!\d)|(?<!\d)0,\d|\d\.\d{3},\d")
_THOUSANDS = re.compile(r",\d{3}\.\d|,\d{3},\d{3}|\d\.(?:\d{1,2}|\d{4,})(?!\d)")


def commas_of(texts: Iterable[str]) -> tuple[str, bool]:
    """What commas in these figures must mean ("decimal", "thousands", "" if nothing tells), and whether
    some figure among them leaves it open, so that somebody must say."""
    decimal = thousands = is_open = False
    for text in texts:
        decimal = decimal or bool(_DECIMAL_COMMA.search(text))
        thousands = thousands or bool(_THOUSANDS.search(text))
        is_open = is_open or bool(_OPEN.search(text))
    told = "" if decimal == thousands else "decimal" if decimal else "thousands"
    return told, is_open and not told


def settled(text: str, commas: str) -> str:
    """The text with its commas as they are meant; unchanged while that is not known."""
    if commas == "decimal":
        text = re.sub(r"(?<![\d.,])\d{1,3}(?:\.\d{3})+(?=,\d)", lambda found: found[0].replace(".", ""), text)
        return re.sub(r"(?<=\d),(?=\d)", ".", text)
    if commas == "thousands":
        return re.sub(
            r"(?<![\d.,])\d{1,3}(?:,\d{3})+(?![\d,])", lambda found: found[0].replace(",", ""), text
        )
    return text


# --- Counts and lengths per weight ----------------------------------------------------------------------
@lru_cache(maxsize=1_000)
def read_system(text: str) -> CountSystem:
    """A count system by its word, its abbreviation or its full name."""
    wanted = " ".join(text.casefold().split())
    for system in CountSystem:
        if wanted in (system.value, system.label.casefold()):
            return system
    for system in CountSystem:
        try:
            read_count(f"10 {wanted}", system)
        except CalcError:
            continue
        return system
    raise CalcError(
        f"“{text}” is no count system. Accepted: " + ", ".join(system.label for system in CountSystem) + "."
    )


@lru_cache(maxsize=5_000)
def read_count_cell(text: str, system: str) -> Count:
    """A count. `system` is used for one that names none; a name of the system in the cell goes first."""
    try:
        return read_count(text)
    except CalcError as error:
        if error.field != "system":
            raise
        if not system:
            raise CalcError(
                f"Of which system is “{text}”? Give a column with the count system, or choose one for all "
                "counts that name none."
            ) from error
    return read_count(text, system)


_LETTERS = re.compile(r"[A-Za-z=/]")


@lru_cache(maxsize=5_000)
def read_grist_cell(text: str, unit: str, commas: str = "") -> Grist:
    """A length per weight; a bare number is in `unit`, such as yd/lb or m/100 g."""
    text = settled(text, commas)
    return read_grist(text if _LETTERS.search(text) else f"{text} {unit}")


# --- Prices ---------------------------------------------------------------------------------------------
_SIGNS = {"€": ("EUR",), "£": ("GBP",), "$": ("USD", "CAD", "AUD", "NZD", "SGD", "HKD", "MXN")}
_CURRENCY = re.compile(r"(?<![A-Za-z])([A-Z]{3})(?![A-Za-z])")


@lru_cache(maxsize=5_000)
def read_price(text: str, currency: str, commas: str = "") -> int:
    """Whole cents of a price in `currency`. Signs and letters of that currency may stand with it."""
    rest = text
    for sign, meant in _SIGNS.items():
        if sign in rest:
            if currency not in meant:
                raise CalcError(
                    f"“{sign}” is not {currency}, in which this studio counts. Give the price in {currency}."
                )
            rest = rest.replace(sign, " ", 1)
    if (named := _CURRENCY.search(rest)) and named[1] != currency:
        raise CalcError(f"This studio counts in {currency}, not in {named[1]}. Give the price in {currency}.")
    return read_cents(settled(rest, commas), currency)


def price_cents(cents: int, per: str, net_mg: int) -> int:
    """What a whole cone cost, in whole cents, half up; `per` is one of UNITS["price"]. For a "row" it is what all
    its cones cost."""
    if per in ("", "cone", "row"):
        return cents
    mass = 100 * UNIT_OF_WORD["g"].size if per == "100 g" else UNIT_OF_WORD[per].size
    return half_up(cents * net_mg / mass)


# --- Days -----------------------------------------------------------------------------------------------
_MONTHS = {
    name[:length]: number
    for number, name in enumerate(
        (
            *("january", "february", "march", "april", "may", "june"),
            *("july", "august", "september", "october", "november", "december"),
        ),
        1,
    )
    for length in {3, 4, len(name)}
}
_ISO = re.compile(r"(\d{4})[-./](\d{1,2})[-./](\d{1,2})(?:[t ].*)?")
_POINTS = re.compile(r"(\d{1,2})\.\s*(\d{1,2})\.\s*(\d{4}|\d{2})")
_STROKES = re.compile(r"(\d{1,2})\s*[/-]\s*(\d{1,2})\s*[/-]\s*(\d{4}|\d{2})")
_DAY_FIRST = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?\.?[ -]+([a-z]+)\.?,?[ -]+(\d{4}|\d{2})")
_MONTH_FIRST = re.compile(r"([a-z]+)\.?[ -]+(\d{1,2})(?:st|nd|rd|th)?,?[ -]+(\d{4}|\d{2})")
_MONTH_ONLY = re.compile(r"([a-z]+)\.?[ -]+(\d{4})")
_YEAR_ONLY = re.compile(r"(\d{4})")
_DAY_WANTED = "Give the day as 2024-04-03, 3.4.2024 or 3 April 2024; a year alone will do."


def day_order_of(texts: Iterable[str]) -> tuple[str, bool]:
    """What stands first in dates such as 3/4/2024 ("day", "month", "" if nothing tells), and whether some
    date leaves it open, so that somebody must say."""
    day = month = is_open = False
    for text in texts:
        if found := _STROKES.fullmatch(text.strip()):
            first, second = int(found[1]), int(found[2])
            day, month = day or first > 12, month or second > 12
            is_open = is_open or (first <= 12 and second <= 12 and first != second)
    told = "" if day == month else "day" if day else "month"
    return told, is_open and not told


@lru_cache(maxsize=5_000)
def read_day(text: str, order: str, today: date) -> date:
    """A day that has been. A year or month alone is its first day."""
    folded = " ".join(text.casefold().split())
    parts = _day_parts(text, folded, order)
    try:
        day = date(_year(parts[0], today), int(parts[1]), int(parts[2]))
    except ValueError as error:
        raise CalcError(f"There is no such day as “{text}”. {_DAY_WANTED}") from error
    if day > today:
        raise CalcError(f"“{text}” has not come yet. {_DAY_WANTED}")
    if day.year < 1900:
        raise CalcError(f"“{text}” is too long ago. {_DAY_WANTED}")
    return day


def _day_parts(text: str, folded: str, order: str) -> tuple[str, str | int, str | int]:
    """Year, month, day as written."""
    if found := _ISO.fullmatch(folded):
        return found[1], found[2], found[3]
    if found := _POINTS.fullmatch(folded):
        return found[3], found[2], found[1]
    if found := _STROKES.fullmatch(folded):
        first, second = found[1], found[2]
        if int(first) <= 12 and int(second) <= 12 and first != second and not order:
            raise CalcError(f"Is “{text}” day, month, year or month, day, year? Say so once for all rows.")
        month_first = order == "month" if int(first) <= 12 and int(second) <= 12 else int(second) > 12
        return (found[3], first, second) if month_first else (found[3], second, first)
    if (found := _DAY_FIRST.fullmatch(folded)) and found[2] in _MONTHS:
        return found[3], _MONTHS[found[2]], found[1]
    if (found := _MONTH_FIRST.fullmatch(folded)) and found[1] in _MONTHS:
        return found[3], _MONTHS[found[1]], found[2]
    if (found := _MONTH_ONLY.fullmatch(folded)) and found[1] in _MONTHS:
        return found[2], _MONTHS[found[1]], 1
    if found := _YEAR_ONLY.fullmatch(folded):
        return found[1], 1, 1
    raise CalcError(f"“{text}” cannot be read as a day. {_DAY_WANTED}")


def _year(written: str, today: date) -> int:
    """Two figures are of this century unless that lies ahead."""
    if len(written) == 4:
        return int(written)
    year = today.year // 100 * 100 + int(written)
    return year if year <= today.year else year - 100


# --- Words ----------------------------------------------------------------------------------------------
_HEX = re.compile(r"#?([0-9a-f]{6})")


def read_colour(text: str) -> str:
    found = _HEX.fullmatch(text.casefold())
    if not found:
        raise CalcError(f"“{text}” is no colour for the screen. Give # and six figures 0-9 a-f, as #2f5d50.")
    return f"#{found[1]}"


def read_choice(text: str, choices: Mapping[str, str], what: str) -> str:
    """The value whose word was written; plurals count. `choices` maps words in small letters to values."""
    word = " ".join(text.casefold().split())
    for tried in (word, word.removesuffix("s")):
        if tried in choices:
            return choices[tried]
    raise CalcError(f"“{text}” is no {what}. Accepted: {', '.join(dict.fromkeys(choices))}.")


MOST_IN_A_ROW = 100
_NUMBER = re.compile(r"([0-9]{1,6})(?:[.,]0{1,6})?(?: ?(?:×|x|pcs|pieces|cones?))?", re.IGNORECASE)


def read_number(text: str) -> int:
    """For how many cones a row stands: 1 to MOST_IN_A_ROW, also written as 3.0 or 3,0."""
    found = _NUMBER.fullmatch(text.strip())
    if not found:
        raise CalcError(f"“{text}” is no number of cones. Give a whole number, as 3.")
    number = int(found[1])
    if number < 1:
        raise CalcError("The row stands for no cone. Leave it out, or give a whole number from 1.")
    if number > MOST_IN_A_ROW:
        raise CalcError(
            f"{text} cones in one row? At most {MOST_IN_A_ROW} can stand in one: write more rows, or, if this is no "
            "number of cones, take the column as not used."
        )
    return number
