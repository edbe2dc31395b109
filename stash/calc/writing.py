"""Figures as people read them: the only place where canonical units become words.

Pure functions of exact values; rounding is on the fraction and never through a binary float. `Measures` is a
studio's choice of units, and every page, sheet and file writes through it. The `field_...` methods write
what stands in a form: text that `quantity.py` reads back to the very same value.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor
from typing import Literal

from stash.calc.density import UM_PER_10_CM, UM_PER_CM, UM_PER_INCH, Density
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.quantity import UNIT_OF_WORD, Unit, half_up

Rounding = Literal["nearest", "up", "down"]
Noun = Literal["ends", "picks", "dents"]

MINUS = "\u2212"

_PER_INCH = {"ends": "epi", "picks": "ppi", "dents": "dents per in"}
_BASES = {UM_PER_INCH: "in", UM_PER_CM: "cm", UM_PER_10_CM: "10 cm"}


def rounded(value: Fraction | int, places: int = 0, rounding: Rounding = "nearest") -> Fraction:
    """`value` to so many decimals: to the nearest (a half away from 0), up or down."""
    scaled = Fraction(value) * 10**places
    if rounding == "up":
        whole = ceil(scaled)
    elif rounding == "down":
        whole = floor(scaled)
    else:
        whole = half_up(scaled) if scaled >= 0 else -half_up(-scaled)
    return Fraction(whole, 10**places)


def decimal(
    value: Fraction | int, places: int = 0, rounding: Rounding = "nearest", *, trim: bool = False
) -> str:
    """`value` in figures: thousands with commas, a true minus, `places` decimals (`trim`: no end noughts)."""
    exact = rounded(value, places, rounding)
    whole, part = divmod(abs(exact) * 10**places, 10**places)
    decimals = f"{int(part):0{places}d}" if places else ""
    if trim:
        decimals = decimals.rstrip("0")
    sign = MINUS if exact < 0 else ""
    return f"{sign}{whole:,}.{decimals}" if decimals else f"{sign}{whole:,}"


def number(value: int) -> str:
    """A whole number with thousands commas: 2,500."""
    return decimal(value)


def percent(share: Fraction, places: int = 1, rounding: Rounding = "nearest") -> str:
    """A share as a percentage, without end noughts: 9 %, 12.5 %."""
    return f"{decimal(share * 100, places, rounding, trim=True)} %"


def density(value: Density, noun: Noun = "ends") -> str:
    """Ends, picks or dents on the base on which they were given: 18 epi, 14 ppi, 7 ends per cm, 6 2/3 epi."""
    figure = _figure(value.count)
    if value.per_um == UM_PER_INCH:
        return f"{figure} {_PER_INCH[noun]}"
    return f"{figure} {noun} per {_base_name(value.per_um)}"


@dataclass(frozen=True, slots=True)
class Measures:
    """The units in which a studio reads and types: lengths imperial or metric, masses in g or oz.

    `scale_step_mg` is what the last figure of its scale steps by; None where it does not say.
    """

    length: Literal["imperial", "metric"] = "imperial"
    mass_in: Literal["g", "oz"] = "g"
    scale_step_mg: int | None = None

    def __post_init__(self) -> None:
        if self.length not in ("imperial", "metric"):
            raise CalcError("Lengths are imperial or metric.", field="length")
        if self.mass_in not in ("g", "oz"):
            raise CalcError("Weights are in g or oz.", field="mass_in")

    @property
    def short_unit(self) -> str:
        """Unit of widths and other short lengths: in or cm."""
        return "in" if self.length == "imperial" else "cm"

    @property
    def long_unit(self) -> str:
        """Unit of warps and of yarn: yd or m."""
        return "yd" if self.length == "imperial" else "m"

    @property
    def mass_unit(self) -> str:
        return self.mass_in

    @property
    def grist_unit(self) -> str:
        return "yd/lb" if self.length == "imperial" else "m/kg"

    @property
    def density_base(self) -> str:
        """Length to which setts and picks are given unless said: in or cm."""
        return self.short_unit

    def long_length(self, um: int | Fraction, rounding: Rounding = "nearest") -> str:
        """Yards or metres, one decimal below 100 and none above: 12.5 yd, 2,500 yd."""
        value = Fraction(um) / UNIT_OF_WORD[self.long_unit].size
        return f"{_one_decimal_below(100, value, rounding)} {self.long_unit}"

    def warp_length(self, um: int | Fraction, rounding: Rounding = "up") -> str:
        """Yards or metres to two decimals, as a board measures a warp: 12.25 yd."""
        value = Fraction(um) / UNIT_OF_WORD[self.long_unit].size
        return f"{decimal(value, 2, rounding)} {self.long_unit}"

    def short_length(self, um: int | Fraction, places: int = 2, rounding: Rounding = "nearest") -> str:
        """Inches or centimetres: 11.00 in."""
        value = Fraction(um) / UNIT_OF_WORD[self.short_unit].size
        return f"{decimal(value, places, rounding)} {self.short_unit}"

    def mass(self, mg: int | Fraction, rounding: Rounding = "nearest") -> str:
        """Grams (6.8 g, 207 g; from 10 kg up 12.35 kg), or ounces (7.3 oz; from a pound up 2 lb 3.5 oz)."""
        if self.mass_in == "g":
            if abs(Fraction(mg)) >= 10_000_000:
                return f"{decimal(Fraction(mg) / 1_000_000, 2, rounding)} kg"
            return f"{_one_decimal_below(10, Fraction(mg) / 1000, rounding)} g"
        ounces = rounded(Fraction(mg) / UNIT_OF_WORD["oz"].size, 1, rounding)
        if abs(ounces) < 16:
            return f"{decimal(ounces, 1 if mg else 0)} oz"
        pounds, rest = divmod(abs(ounces), 16)
        sign = MINUS if ounces < 0 else ""
        return f"{sign}{pounds:,} lb {decimal(rest, 1)} oz" if rest else f"{sign}{pounds:,} lb"

    def grist(self, value: Grist, rounding: Rounding = "nearest") -> str:
        """Length per weight in the studio's units: 3,360 yd/lb or 6,773 m/kg."""
        figure = value.yd_per_lb if self.length == "imperial" else value.um_per_mg
        return f"{_one_decimal_below(100, figure, rounding)} {self.grist_unit}"

    def number(self, value: int) -> str:
        return number(value)

    def percent(self, share: Fraction, places: int = 1, rounding: Rounding = "nearest") -> str:
        return percent(share, places, rounding)

    def density(self, value: Density, noun: Noun = "ends") -> str:
        return density(value, noun)

    def field_short_length(self, um: int) -> str:
        """What stands in a field read by `read_length(text, self.short_unit)`."""
        return _field(um, self.short_unit, ("cm", "in") if self.length == "imperial" else ("in", "cm"))

    def field_long_length(self, um: int) -> str:
        """What stands in a field read by `read_length(text, self.long_unit)`."""
        return _field(
            um, self.long_unit, ("m", "in", "cm") if self.length == "imperial" else ("yd", "in", "cm")
        )

    def field_mass(self, mg: int) -> str:
        """What stands in a field read by `read_mass(text, self.mass_unit)`."""
        return _field(mg, self.mass_in, ("lb", "oz") if self.mass_in == "g" else ("g",))

    def field_density(self, value: Density) -> str:
        """What stands in a field read by `read_density(text, self.density_base)`."""
        base = _base_name(value.per_um)
        return _exact(value.count) if base == self.density_base else f"{_exact(value.count)} per {base}"

    def field_grist(self, value: Grist) -> str:
        """What stands in a field read by `read_grist(text, self.grist_unit)`."""
        yards, metres = (value.yd_per_lb, "yd/lb"), (value.um_per_mg, "m/kg")
        for figure, unit in (yards, metres) if self.length == "imperial" else (metres, yards):
            if _places(figure, 4) is not None:
                return _exact(figure) if unit == self.grist_unit else f"{_exact(figure)} {unit}"
        if _places(value.tex, 4) is not None:
            return f"{_exact(value.tex)} g/km"
        # As weighed: so much length, so much mass, in the first pair of units whose figures are short.
        pairs = []
        for long in (self.long_unit, "m", "yd"):
            for heavy in (self.mass_in, "g", "oz"):
                ratio = value.um_per_mg * UNIT_OF_WORD[heavy].size / UNIT_OF_WORD[long].size
                pairs.append(f"{ratio.numerator} {long} = {ratio.denominator} {heavy}")
        return next((pair for pair in pairs if len(pair) <= 24), min(pairs, key=len))


def field_percent(share: Fraction) -> str:
    """What stands in a field read by `read_percent`: 12.5, and 0.5 % with its sign."""
    value = share * 100
    return f"{_exact(value)} %" if 0 < value < 1 else _exact(value)


def field_whole(value: int) -> str:
    """What stands in a field read by `read_whole`: no commas."""
    return str(value)


def _one_decimal_below(limit: int, value: Fraction, rounding: Rounding) -> str:
    places = 1 if abs(rounded(value, 1, rounding)) < limit and value else 0
    return decimal(value, places, rounding)


def _figure(value: Fraction) -> str:
    """A count to a length: decimals if they end soon, a small fraction as such, else two decimals."""
    if _places(value, 4) is None and value.denominator <= 16:
        return _exact(value)
    return decimal(value, 4 if _places(value, 4) is not None else 2, trim=True)


def _base_name(per_um: int) -> str:
    if per_um in _BASES:
        return _BASES[per_um]
    for size, name in ((UM_PER_INCH, "in"), (UM_PER_CM, "cm")):
        if per_um % size == 0:
            return f"{per_um // size} {name}"
    return f"{decimal(Fraction(per_um, UM_PER_CM), 4, trim=True)} cm"


def _places(value: Fraction, most: int) -> int | None:
    """How many decimals write `value` exactly; None if `most` are not enough."""
    return next((places for places in range(most + 1) if (value * 10**places).denominator == 1), None)


def _exact(value: Fraction) -> str:
    """`value` exactly, as it may be typed: decimals if six suffice, else a fraction. No commas."""
    if _places(value, 6) is not None:
        return decimal(value, 6, trim=True).replace(",", "")
    whole, rest = divmod(value, 1)
    return f"{whole} {rest}" if whole else str(rest)


def _field(whole: int, own: str, others: Iterable[str]) -> str:
    """Text that reads back to `whole`: bare in the field's own unit, or in another where that is far shorter.

    Whole um and mg were rounded when they were typed, so the text need not be exact: 7938 um is 0.3125 in.
    """
    bare = _shortest(whole, UNIT_OF_WORD[own])
    if _decimals(bare) <= 2:
        return bare
    texts = [f"{_shortest(whole, UNIT_OF_WORD[unit])} {unit}" for unit in others]
    neat = next((text for text in texts if _decimals(text) <= 2), None)
    return neat or min([bare, *texts], key=_decimals)


def _shortest(whole: int, unit: Unit) -> str:
    for places in range(12):
        value = rounded(Fraction(whole) / unit.size, places)
        if half_up(value * unit.size) == whole:
            return decimal(value, places, trim=True).replace(",", "")
    raise AssertionError("twelve decimals of any unit write every whole um and mg")


def _decimals(text: str) -> int:
    return len(text.partition(" ")[0].partition(".")[2])
