"""Yarn counts: what a number such as 8/2 says, in the system that is stated with it.

Two families. So much length to a mass (cotton, worsted, run, cut, lea, Yorkshire skein, metric, spun silk):
a bigger number is a finer yarn, and the ply divides it. So much mass to a length (tex, dtex, denier): a
bigger number is a thicker yarn, and the ply multiplies it. English spun silk is written by its resultant
count, so there the ply changes nothing. The system is never guessed from the fibre: 16/2 linen runs
2400 yd/lb, 16/2 cotton 6720.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Literal

from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.quantity import checked_grist
from stash.calc.scanner import Number, Scanner
from stash.calc.units import mg_per_um_at, um_per_mg_at

MOST_PLIES = 24
# trade.md's rule of sense, common practice: a ply is nearly always 1 to 6.
USUAL_PLIES = 6
MOST_DENOMINATOR = 10_000

Order = Literal["count first", "ply first", "none"]


class CountSystem(StrEnum):
    """The systems a yarn may be recorded in; the value is what is stored."""

    COTTON = "cotton"
    LEA = "lea"
    WORSTED = "worsted"
    METRIC = "metric"
    RUN = "run"
    CUT = "cut"
    YORKSHIRE = "yorkshire"
    SPUN_SILK = "spun_silk"
    TEX = "tex"
    DTEX = "dtex"
    DENIER = "denier"

    @property
    def label(self) -> str:
        """Its name with what number 1 means, for choosing from a list."""
        return _RULES[self].label

    @property
    def is_direct(self) -> bool:
        """True where the number is mass per length: bigger is thicker, the ply multiplies."""
        return _RULES[self].direct


@dataclass(frozen=True, slots=True)
class _Rules:
    """How one system is reckoned, read and written. `words` name it in a typed text."""

    label: str
    unit: str
    words: str
    written: str
    order: Order = "none"
    direct: bool = False
    ply_divides: bool = True


_RULES = {
    CountSystem.COTTON: _Rules(
        "cotton count (Ne, 840 yd/lb)",
        "cotton_count",
        "cotton|cotton count|ne|nec|cc",
        "cotton",
        "count first",
    ),
    CountSystem.LEA: _Rules(
        "linen lea (300 yd/lb)", "linen_lea", "linen|linen lea|lea|leas|nel", "linen lea", "count first"
    ),
    CountSystem.WORSTED: _Rules(
        "worsted count (560 yd/lb)", "worsted_count", "worsted|worsted count", "worsted", "ply first"
    ),
    CountSystem.METRIC: _Rules(
        "metric count (Nm, 1000 m/kg)", "metric_count", "nm|metric|metric count", "Nm", "ply first"
    ),
    CountSystem.RUN: _Rules(
        "woollen run (1600 yd/lb)", "woollen_run", "run|runs|woollen run|woolen run", "run"
    ),
    CountSystem.CUT: _Rules(
        "woollen cut (300 yd/lb)", "woollen_cut", "cut|cuts|woollen cut|woolen cut", "cut"
    ),
    CountSystem.YORKSHIRE: _Rules(
        "Yorkshire skein (256 yd/lb)",
        "yorkshire_skein",
        "yorkshire|yorkshire skein|yorkshire skeins|skein|skeins",
        "Yorkshire skein",
    ),
    CountSystem.SPUN_SILK: _Rules(
        "English spun silk (840 yd/lb, the count as plied)",
        "spun_silk_count",
        "spun silk|english spun silk",
        "spun silk",
        "count first",
        ply_divides=False,
    ),
    CountSystem.TEX: _Rules("tex (g per km)", "tex", "tex", "tex", direct=True),
    CountSystem.DTEX: _Rules("decitex (g per 10 km)", "dtex", "dtex|decitex", "dtex", direct=True),
    CountSystem.DENIER: _Rules("denier (g per 9 km)", "denier", "den|denier|deniers", "denier", direct=True),
}

_SYSTEM_OF_WORDS = {words: system for system, rules in _RULES.items() for words in rules.words.split("|")}
# These name a fibre or a way of spinning as well, so alone they do not state a system.
_FIBRE_WORDS = {"cotton", "linen", "worsted", "spun silk"}


@dataclass(frozen=True, slots=True)
class Count:
    """A yarn of `ply` singles, each of `number` in `system` (spun silk: `number` is the yarn as plied).

    Raises CalcError for a number that is not positive or of too many decimals, for plies outside 1 to 24, and
    for a yarn finer or heavier than any.
    """

    system: CountSystem
    number: Fraction
    ply: int = 1

    def __post_init__(self) -> None:
        object.__setattr__(self, "system", CountSystem(self.system))
        object.__setattr__(self, "number", Fraction(self.number))
        if self.number <= 0:
            raise CalcError("The number of a yarn must be more than 0.", field="number")
        if self.number.denominator > MOST_DENOMINATOR:
            raise CalcError("Write the number of the yarn with at most four decimals.", field="number")
        if not 1 <= self.ply <= MOST_PLIES:
            raise CalcError(f"A yarn has 1 to {MOST_PLIES} plies.", field="ply")
        checked_grist(self._um_per_mg)

    @property
    def _um_per_mg(self) -> Fraction:
        rules = _RULES[self.system]
        if rules.direct:
            return 1 / (self.number * self.ply * mg_per_um_at(rules.unit))
        return self.resultant * um_per_mg_at(rules.unit)

    @property
    def resultant(self) -> Fraction:
        """The number of the plied yarn in its own system: 4 for 8/2 cotton, 148 for 74 tex x 2."""
        rules = _RULES[self.system]
        if rules.direct:
            return self.number * self.ply
        return self.number / self.ply if rules.ply_divides else self.number

    @property
    def grist(self) -> Grist:
        """Length per mass of the plied yarn. Twist contraction, a few per cent, is not in a count."""
        return Grist.from_um_per_mg(self._um_per_mg)

    @property
    def tex(self) -> Fraction:
        """Grams per kilometre of the plied yarn."""
        return self.grist.tex

    @property
    def written(self) -> str:
        """As the trade writes it and `read_count` reads it back: 8/2 cotton, Nm 2/28, 74 tex x 2, 3 run."""
        rules = _RULES[self.system]
        figure = _figure(self.number)
        if rules.direct:
            if _ends(self.number):
                return f"{figure} {rules.written}" + (f" x {self.ply}" if self.ply > 1 else "")
            return self.written_resultant
        if rules.order == "none":
            if self.system is CountSystem.RUN and self.number > 1 and self.number.denominator in (2, 4):
                figure = f"{self.number // 1} {self.number % 1}"  # as the books print it: 3 1/4 run
            return f"{figure} {rules.written}" + (f" x {self.ply}" if self.ply > 1 else "")
        pair = (figure, str(self.ply)) if rules.order == "count first" else (str(self.ply), figure)
        slash = "/".join(pair)
        if not _reads_back(self, slash):
            slash = f"{figure} x {self.ply}"
        return f"{rules.written} {slash}" if self.system is CountSystem.METRIC else f"{slash} {rules.written}"

    @property
    def written_resultant(self) -> str:
        """By its resultant: R 148 tex / 2 for a direct system (ISO 1139); for others as `written`."""
        rules = _RULES[self.system]
        if not rules.direct:
            return self.written
        return f"R {_figure(self.resultant)} {rules.written} / {self.ply}"


def read_count(text: str, system: CountSystem | str | None = None) -> Count:
    """The count typed as `text` in `system`. Raises CalcError, with a question where two readings are open.

    `8/2`, `2/8`, `2-40's`, `16`, `3 1/4`, `8 x 2` (number x plies, never ambiguous); for direct systems
    `74 tex x 2` and `R 148 tex / 2`. A system named in the text must be the one stated; without `system` the
    text must name it by a word that is no fibre: `Nm 2/28`, `R 148 tex / 2`.
    """
    stated = None if system is None or system == "" else _system(system)
    scan = Scanner(text, "a count such as 8/2, 2/16 or 74 tex x 2")
    names: list[tuple[str, int]] = []
    resultant = _leading_words(scan, names)
    first, mark, second = _figures(scan, names)
    _words(scan, names)
    scan.finish()
    chosen = _agreed(scan, stated, names)
    return _count(scan, chosen, first, mark, second, resultant)


def resultant(counts: Sequence[Fraction | int]) -> Fraction:
    """Count of unlike singles twisted together, all in one system of length per mass: 1/R = sum(1/count)."""
    if not counts or any(count <= 0 for count in counts):
        raise CalcError("Give the count of each single, more than 0.", field="counts")
    return 1 / sum((1 / Fraction(count) for count in counts), Fraction(0))


def weight_shares(counts: Sequence[Fraction | int]) -> tuple[Fraction, ...]:
    """Share of the mass that each of the singles has in the yarn plied from them; they add up to 1."""
    whole = resultant(counts)
    return tuple(whole / Fraction(count) for count in counts)


def plied_grist(counts: Sequence[Count]) -> Grist:
    """Grist of unlike yarns twisted together, in whatever systems: their masses to a length add up."""
    if not counts:
        raise CalcError("Give at least one yarn.", field="counts")
    return checked_grist(resultant([count.grist.um_per_mg for count in counts]))


def in_system(grist: Grist, system: CountSystem | str) -> Fraction:
    """The number of a yarn of this grist, as one thread, in `system`. Exact."""
    rules = _RULES[_system(system)]
    if rules.direct:
        return 1 / (grist.um_per_mg * mg_per_um_at(rules.unit))
    return grist.um_per_mg / um_per_mg_at(rules.unit)


def convert(count: Count, to_system: CountSystem | str) -> Fraction:
    """The resultant number of `count` in another system: 30 worsted for 20 cotton. Exact."""
    return in_system(count.grist, to_system)


def difference_in_grist(base: Grist, other: Grist) -> Fraction:
    """By what share `other` runs longer to the weight than `base` (negative: shorter)."""
    return other.um_per_mg / base.um_per_mg - 1


def _system(system: CountSystem | str) -> CountSystem:
    try:
        return CountSystem(system)
    except ValueError:
        raise CalcError(f"Choose the count system: {_listed()}.", field="system") from None


def _listed() -> str:
    return ", ".join(rules.label for rules in _RULES.values())


def _leading_words(scan: Scanner, names: list[tuple[str, int]]) -> bool:
    """Words before the first figure: R for a resultant, or the name of a system."""
    scan.skip_spaces()
    start = scan.at
    resultant = scan.word() == "r"
    if not resultant:
        scan.at = start
        _words(scan, names)
    return resultant


def _words(scan: Scanner, names: list[tuple[str, int]]) -> None:
    """Gather the words that come next into one name, and keep it with its place."""
    scan.skip_spaces()
    start, words = scan.at, []
    while True:
        before = scan.at
        word = scan.word()
        if not word or word == "x":
            scan.at = before
            break
        words.append(word)
    if words:
        names.append((" ".join(words), start))


def _figures(scan: Scanner, names: list[tuple[str, int]]) -> tuple[Number, str, Number | None]:
    """The first figure, the mark between ("/" or "x", "" if none), and the second figure."""
    first = _figure_of(scan)
    _words(scan, names)
    mark = scan.take("/", "⁄", "x", "X", "×", "*") or _dash(scan)
    if not mark:
        return first, "", None
    second = _figure_of(scan)
    return first, "/" if mark in "/⁄-" else "x", second


_PLURAL = re.compile(r"['’]?s(?![A-Za-z])", re.IGNORECASE)


def _figure_of(scan: Scanner) -> Number:
    number = scan.number(fractions=False)
    # 40's and 40s: numbers of yarn are spoken of in the plural.
    plural = _PLURAL.match(scan.text, scan.at, scan.end)
    if plural:
        scan.at = plural.end()
    return number


def _dash(scan: Scanner) -> str:
    """2-40 is the old writing of 2/40; between other things a dash stays to be refused."""
    return scan.take("-")


def _agreed(scan: Scanner, stated: CountSystem | None, names: list[tuple[str, int]]) -> CountSystem:
    """The one system that statement and text agree on."""
    for name, at in names:
        named = _SYSTEM_OF_WORDS.get(name)
        if named is None:
            raise scan.error(
                f"“{name}” is no count system. Give only the figures, such as 8/2, and choose the system: "
                f"{_listed()}.",
                at,
            )
        if stated is None and name not in _FIBRE_WORDS:
            stated = named
        if stated is not None and named is not stated:
            raise scan.error(
                f"“{name}” names {_RULES[named].label}, but the system stated is {_RULES[stated].label}. "
                "Which is it? Change one of them.",
                at,
            )
    if stated is None:
        raise CalcError(
            "The same figures mean different yarns in different systems. State the count system: "
            f"{_listed()}.",
            field="system",
        )
    return stated


def _count(
    scan: Scanner, system: CountSystem, first: Number, mark: str, second: Number | None, resultant: bool
) -> Count:
    direct = _RULES[system].direct
    if resultant and not direct:
        raise scan.error(
            f"R marks a resultant in tex, dtex or denier, not in {_RULES[system].label}.", first.start
        )
    if second is None:
        return _made(system, first, first.value, 1)
    if mark == "x":
        if resultant:
            raise scan.error("After R the plies stand behind a stroke: R 148 tex / 2.", second.start)
        return _made(system, first, first.value, _ply(scan, second))
    if resultant:
        ply = _ply(scan, second)
        return _made(system, first, first.value / ply, ply)
    if direct:
        raise scan.error(
            f"In {_RULES[system].written} a stroke can mean plies, filaments or a range. Write the single "
            f"and the plies as {first.text} x 2, or the plied yarn as R {first.text} / 2.",
            first.start,
        )
    return _by_order(scan, system, first, second)


def _by_order(scan: Scanner, system: CountSystem, first: Number, second: Number) -> Count:
    """Two figures with a stroke: which is the ply? Sense first, then the trade's order, else a question."""
    count_first = _can_be_ply(second)
    ply_first = _can_be_ply(first)
    if not count_first and not ply_first:
        raise scan.error(
            f"Neither “{first.text}” nor “{second.text}” can be the plies, "
            f"a whole number from 1 to {MOST_PLIES}.",
            first.start,
        )
    if first.value == second.value or (count_first and not ply_first):
        return _made(system, first, first.value, _ply(scan, second))
    if ply_first and not count_first and first.value <= USUAL_PLIES:
        return _made(system, second, second.value, _ply(scan, first))
    smaller, larger = sorted((first, second), key=lambda figure: figure.value)
    if system is CountSystem.RUN and first is smaller and second.value in (2, 4, 8):
        raise scan.error(
            f"Is “{first.text}/{second.text}” a fraction of a run, or {_plies(first)} of {second.text} run? "
            f"Write {_figure(first.value / second.value)}, or {second.text} x {first.text} (number x plies).",
            first.start,
        )
    # One single of number n, or a ply of the usual few beside a number that no ply has: sense decides.
    clear = smaller.value == 1 or smaller.value <= USUAL_PLIES < larger.value
    order = _RULES[system].order
    by_trade = (order == "count first" and smaller is second) or (order == "ply first" and smaller is first)
    if clear or by_trade:
        return _made(system, larger, larger.value, _ply(scan, smaller))
    readings = [(first, second), (second, first)]
    possible = [(number, ply) for number, ply in readings if _can_be_ply(ply)]
    raise scan.error(
        f"“{first.text}/{second.text}” can be read as "
        + " or as ".join(f"{_plies(ply)} of number {number.text}" for number, ply in possible)
        + f" (plies: 1 to {MOST_PLIES}). Write "
        + " or ".join(f"{number.text} x {ply.text}" for number, ply in possible)
        + ", number x plies.",
        first.start,
    )


def _can_be_ply(figure: Number) -> bool:
    return figure.value.denominator == 1 and 1 <= figure.value <= MOST_PLIES


def _plies(figure: Number) -> str:
    return f"{figure.text} ply" if figure.value == 1 else f"{figure.text} plies"


def _ply(scan: Scanner, figure: Number) -> int:
    if not _can_be_ply(figure):
        raise scan.error(
            f"“{figure.text}” cannot be the plies, a whole number from 1 to {MOST_PLIES}.", figure.start
        )
    return int(figure.value)


def _made(system: CountSystem, figure: Number, number: Fraction, ply: int) -> Count:
    try:
        return Count(system, number, ply)
    except CalcError as error:
        raise CalcError(error.message, position=figure.start + 1) from None


def _reads_back(count: Count, text: str) -> bool:
    try:
        return read_count(text, count.system) == count
    except CalcError:
        return False


def _ends(value: Fraction) -> bool:
    """True if four decimals write it exactly."""
    return (value * 10_000).denominator == 1


def _figure(value: Fraction) -> str:
    """A number of yarn: whole, with up to four decimals, or else with a fraction."""
    whole, rest = divmod(value, 1)
    if not rest:
        return str(whole)
    if _ends(value):
        return f"{whole}.{int(rest * 10_000):04d}".rstrip("0")
    return f"{whole} {rest}" if whole else str(rest)
