"""What people type into a field, read by a grammar of our own into whole canonical units.

An amount is one or more terms of a number and a unit, the units falling: `2 lb 3 oz`, `1 yd 4 1/2 in`,
`5' 3"`, `450 g`. A bare number is in the field's shown unit. Numbers may be `2.5`, `2,5`, `1 000`, `1 1/2`,
`3/8`, `1½`; case is ignored. What can be meant in two ways (`1,234`, `gr`, `2 yd 4`) is refused with a
question: a wrong guess here is a warp wound short. Every reader raises CalcError and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import floor
from typing import Literal

from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.scanner import Number, Scanner
from stash.calc.units import mg_per, um_per

Kind = Literal["length", "mass"]

MOST_UM = 10_000 * 1_000_000_000  # 10,000 km
MOST_MG = 10_000 * 1_000_000  # 10,000 kg
# Both parts of a stored grist fit a signed 64-bit integer with a bit to spare.
MOST_IN_GRIST = 2**62
FINEST_UM_PER_MG = Fraction(10_000_000)  # 0.1 tex: finer than any filament
COARSEST_UM_PER_MG = Fraction(1)  # 1 kg to the metre: thicker than any rope of fleece


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit that may be typed: as shown to people, its kind, its name in the registry."""

    short: str
    kind: Kind
    name: str

    @property
    def size(self) -> Fraction:
        """um or mg in one."""
        return um_per(self.name) if self.kind == "length" else mg_per(self.name)


@dataclass(frozen=True, slots=True)
class Amount:
    """What was typed where a field takes a length or a mass: which of the two, and how much.

    `whole` is in um for a length and in mg for a mass.
    """

    kind: Kind
    whole: int

    def mass_mg(self, grist: Grist) -> Fraction:
        """Exact mass of it, in mg, in a yarn of this grist."""
        return Fraction(self.whole) if self.kind == "mass" else grist.mass_mg_of(self.whole)

    def length_um(self, grist: Grist) -> Fraction:
        """Exact length of it, in um, in a yarn of this grist."""
        return Fraction(self.whole) if self.kind == "length" else grist.length_um_of(self.whole)


_UNITS = {
    Unit("mm", "length", "millimeter"): "mm millimetre millimetres millimeter millimeters",
    Unit("cm", "length", "centimeter"): "cm centimetre centimetres centimeter centimeters",
    Unit("m", "length", "meter"): "m metre metres meter meters",
    Unit("km", "length", "kilometer"): "km kilometre kilometres kilometer kilometers",
    Unit("in", "length", "inch"): "in inch inches",
    Unit("ft", "length", "foot"): "ft foot feet",
    Unit("yd", "length", "yard"): "yd yds yard yards",
    Unit("mg", "mass", "milligram"): "mg milligram milligrams milligramme milligrammes",
    Unit("g", "mass", "gram"): "g gram grams gramme grammes",
    Unit("kg", "mass", "kilogram"): "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes",
    Unit("grain", "mass", "grain"): "grain grains",
    Unit("oz", "mass", "ounce"): "oz ozs ounce ounces",
    Unit("lb", "mass", "pound"): "lb lbs pound pounds",
}
UNIT_OF_WORD = {word: unit for unit, words in _UNITS.items() for word in words.split()}

_FOOT_MARKS = ("'", "′", "’")
_INCH_MARKS = ("''", "′′", "’’", '"', "″", "”")
_ACCEPTED = {
    "length": "in, ft, yd, mm, cm, m or km",
    "mass": "g, kg, mg, oz, lb or grain",
}
_CALLED = {"length": "a length", "mass": "a weight"}
# After these a last bare number can only be the next smaller unit: 2 lb 3 is 2 lb 3 oz, 5 ft 3 is 5 ft 3 in.
_IMPLIED = {"lb": "oz", "ft": "in"}

_DENSITY_WORDS = {"epi": "in", "ppi": "in", "dpi": "in"}
_COUNTED_WORDS = {"end", "ends", "pick", "picks", "dent", "dents", "thread", "threads", "warp", "weft"}
_BASES = {"in": (1, "in"), "cm": (1, "cm"), "10 cm": (10, "cm")}
MOST_PER_INCH = 2_000
LEAST_PER_INCH = Fraction(1, 10)
# A figure kept as a numerator and a denominator stays short: at most four decimals, or a small fraction.
MOST_DENOMINATOR = 10_000
MOST_SHARE_DENOMINATOR = 1_000_000


def half_up(value: Fraction) -> int:
    """The nearest whole number, a half upwards."""
    return floor(value + Fraction(1, 2))


def read_length(text: str, default_unit: str = "in", *, least: int = 0, most: int = MOST_UM) -> int:
    """Whole um typed as a length; a bare number is in `default_unit`. `least` and `most` are in um."""
    exact = _read_one(text, "length", default_unit, "a length such as 10 in, 1 1/2 yd or 2.5 m")
    return _whole(exact, "length", least, most)


def read_mass(text: str, default_unit: str = "g", *, least: int = 0, most: int = MOST_MG) -> int:
    """Whole mg typed as a mass; a bare number is in `default_unit`. `least` and `most` are in mg."""
    exact = _read_one(text, "mass", default_unit, "a weight such as 450 g, 1.2 kg or 2 lb 3 oz")
    return _whole(exact, "mass", least, most)


def read_amount(text: str, default_unit: str = "g") -> Amount:
    """A length or a mass, whichever was typed; a bare number is in `default_unit`, of either kind."""
    scan = Scanner(text, "a weight or a length such as 450 g or 500 yd")
    kind, exact = _terms(scan, ("mass", "length"), UNIT_OF_WORD[default_unit])
    scan.finish()
    return Amount(kind, _whole(exact, kind, 0, MOST_UM if kind == "length" else MOST_MG))


def read_whole(
    text: str, *, least: int = 0, most: int = 1_000_000, one: str = "piece", many: str = "pieces"
) -> int:
    """A whole number of things, counted in words `one` and `many`: `12`, `12 pieces`, `1 000`."""
    scan = Scanner(text, f"a whole number of {many} such as 12")
    number = scan.number()
    start = scan.at
    word = scan.word()
    if word and word not in (one.lower(), many.lower()):
        raise scan.error(f"“{word}” cannot be read here. Give {scan.wanted}.", start)
    scan.finish()
    if number.value.denominator != 1:
        raise scan.error(f"“{number.text}” is not whole. Give {scan.wanted}.", number.start)
    if number.value < least:
        raise CalcError(f"There must be at least {least:,} {one if least == 1 else many}.")
    if number.value > most:
        raise CalcError(f"There can be at most {most:,} {one if most == 1 else many}.")
    return int(number.value)


def read_percent(
    text: str,
    *,
    least: Fraction = Fraction(0),
    below: Fraction | None = Fraction(1),
    most: Fraction | None = None,
) -> Fraction:
    """A percentage as an exact share: `12.5 %` and `12.5` give 1/8.

    The share must be at least `least`, less than `below` and at most `most` (None: no such limit).
    A bare number between 0 and 1 is refused: 0.1 is typed for 10 % as often as for 0.1 %.
    """
    scan = Scanner(text, "a percentage such as 10 % or 12.5 %")
    number = scan.number()
    sign = scan.take("%") or _percent_word(scan)
    scan.finish()
    share = number.value / 100
    if not sign and 0 < number.value < 1:
        raise scan.error(
            f"Is “{number.text}” meant as {number.text} % or as a share, {_plain(number.value * 100)} %? "
            "Write it with the sign %.",
            number.start,
        )
    if share < least:
        raise CalcError(f"It must be at least {_plain(least * 100)} %.")
    if below is not None and share >= below:
        raise CalcError(f"It must be less than {_plain(below * 100)} %.")
    if most is not None and share > most:
        raise CalcError(f"It can be at most {_plain(most * 100)} %.")
    if share.denominator > MOST_SHARE_DENOMINATOR:
        raise CalcError("Write the percentage with at most four decimals.")
    return share


def read_density(text: str, default_base: str = "in") -> Density:
    """Ends, picks or dents to a length; a bare number is to `default_base`: "in", "cm" or "10 cm".

    `18`, `18 epi`, `18 ppi`, `18 per in`, `18 ends per inch`, `7/cm`, `70 / 10 cm`, `15 1/2 per in`.
    """
    scan = Scanner(text, "a number to a length such as 18 epi, 7 per cm or 70 / 10 cm")
    number = scan.number()
    count, times, base = number.value, *_BASES[default_base]
    start = scan.at
    word = scan.word()
    if word in _COUNTED_WORDS:
        start = scan.at
        word = scan.word()
        if not word and not scan.take("/"):
            raise scan.error("To what length? Give " + scan.wanted + ".")
        word = word or "per"
    if word in _DENSITY_WORDS:
        times, base = 1, _DENSITY_WORDS[word]
    elif word == "per" or (not word and scan.take("/")):
        times, base = _base(scan)
    elif word:
        scan.at = start
        if number.over and UNIT_OF_WORD.get(word) in _LENGTH_BASES:
            # 70/10 cm: seventy to ten centimetres, not seven.
            scan.word()
            count, times, base = Fraction(number.over[0]), number.over[1], UNIT_OF_WORD[word].short
        else:
            scan.skip_spaces()
            raise scan.error(f"“{word}” cannot be read here. Give {scan.wanted}.")
    elif number.over:
        raise scan.error(
            f"Is “{number.text}” meant as so many to 10 cm, or as a fraction? Give {scan.wanted}.",
            number.start,
        )
    scan.finish()
    return _checked_density(scan, count, times, base)


def read_grist(text: str, default_unit: str = "yd/lb") -> Grist:
    """How much length goes to how much mass; a bare number is in `default_unit`, e.g. "yd/lb" or "m/kg".

    `3360 yd/lb`, `210 yd/oz`, `6773 m/kg`, `677 m/100 g`, `100 g = 677 m`, and as weighed on the studio's own
    scale `50 yd weigh 6.75 g`.
    """
    scan = Scanner(text, "a length to a weight such as 3360 yd/lb, 6773 m/kg or 50 yd = 6.75 g")
    number_at = scan.at
    number = scan.number()
    word = scan.word()
    if not word and scan.finished:
        length, mass = (UNIT_OF_WORD[part] for part in default_unit.split("/"))
        return checked_grist(number.value * length.size / mass.size)
    if word in ("ypp", "yppd"):
        scan.finish()
        return checked_grist(number.value * um_per("yard") / mg_per("pound"))
    scan.at = number_at
    kind, first = _terms(scan, ("length", "mass"), None)
    second_kind, second = _other_side(scan, kind)
    scan.finish()
    if kind == second_kind:
        raise scan.error(
            f"Both sides are {_CALLED[kind]}: a length and a weight are needed. Give {scan.wanted}.",
            number_at,
        )
    if not first or not second:
        raise CalcError(f"Neither the length nor the weight can be 0. Give {scan.wanted}.")
    return checked_grist(first / second if kind == "length" else second / first)


def checked_grist(um_per_mg: Fraction) -> Grist:
    """The grist of so many um to a mg. Raises CalcError for what no yarn can be, or for too many figures."""
    if um_per_mg <= 0:
        raise CalcError("The length per weight must be more than nothing.")
    if um_per_mg > FINEST_UM_PER_MG:
        raise CalcError(
            "No yarn is as fine as that: at most 10,000,000 m/kg (0.1 tex) is taken. Check the unit."
        )
    if um_per_mg < COARSEST_UM_PER_MG:
        raise CalcError("No yarn is as heavy as that: at least 1 m/kg is taken. Check the unit.")
    if max(um_per_mg.numerator, um_per_mg.denominator) >= MOST_IN_GRIST:
        raise CalcError("That has more figures than can be kept: write it with fewer.")
    return Grist.from_um_per_mg(um_per_mg)


def _read_one(text: str, kind: Kind, default_unit: str, wanted: str) -> Fraction:
    scan = Scanner(text, wanted)
    _, exact = _terms(scan, (kind,), UNIT_OF_WORD[default_unit])
    scan.finish()
    return exact


def _terms(scan: Scanner, kinds: tuple[Kind, ...], default: Unit | None) -> tuple[Kind, Fraction]:
    """Terms of number and unit with falling units: the kind, and the exact sum in um or mg."""
    total = Fraction(0)
    last: Unit | None = None
    while True:
        number = scan.number()
        unit_at = scan.at
        unit = _unit(scan, kinds)
        if unit is None:
            unit = _implied(scan, number, last) if last else default
        elif last and unit.kind != last.kind:
            raise scan.error(
                f"“{last.short}” and “{unit.short}” cannot be added: give a length or a weight.", unit_at
            )
        elif last and unit.size >= last.size:
            raise scan.error(f"“{unit.short}” after “{last.short}”: the larger unit stands first.", unit_at)
        if unit is None:
            raise scan.error(f"The unit is missing after “{number.text}”. Give {scan.wanted}.")
        total += number.value * unit.size
        last = unit
        if not scan.number_ahead():
            return unit.kind, total


def _unit(scan: Scanner, kinds: tuple[Kind, ...]) -> Unit | None:
    if scan.take(*_INCH_MARKS):
        return _of_kind(scan, UNIT_OF_WORD["in"], kinds, scan.at - 1)
    if scan.take(*_FOOT_MARKS):
        return _of_kind(scan, UNIT_OF_WORD["ft"], kinds, scan.at - 1)
    scan.skip_spaces()
    at = scan.at
    word = scan.word()
    if not word:
        return None
    if word == "gr" and "mass" in kinds:
        raise scan.error("Is “gr” meant as grams or as grains? Write g for grams, grain for grains.", at)
    unit = UNIT_OF_WORD.get(word)
    if unit is None:
        accepted = "; ".join(_ACCEPTED[kind] for kind in kinds)
        raise scan.error(f"“{word}” is not a unit that is read here. Accepted: {accepted}.", at)
    return _of_kind(scan, unit, kinds, at)


def _of_kind(scan: Scanner, unit: Unit, kinds: tuple[Kind, ...], at: int) -> Unit:
    if unit.kind not in kinds:
        raise scan.error(
            f"“{unit.short}” is {_CALLED[unit.kind]}; {_CALLED[kinds[0]]} is needed. "
            f"Accepted: {_ACCEPTED[kinds[0]]}.",
            at,
        )
    return unit


def _implied(scan: Scanner, number: Number, last: Unit) -> Unit:
    """The unit of a last number that has none, where only one can be meant; else a question."""
    smaller = UNIT_OF_WORD.get(_IMPLIED.get(last.short, ""))
    if smaller and number.value >= 1 and number.value * smaller.size < last.size:
        return smaller
    raise scan.error(f"“{number.text}” of what, after “{last.short}”? Write its unit.", number.start)


def _whole(exact: Fraction, kind: Kind, least: int, most: int) -> int:
    """Round once, half up, and hold the limits."""
    called = _CALLED[kind]
    if exact > most:
        raise CalcError(f"That is more than can be taken here: {called} of at most {_limit(kind, most)}.")
    whole = half_up(exact)
    if exact and not whole:
        raise CalcError(f"That is too little to be {called}: it must be 0 or at least {_limit(kind, 1)}.")
    if whole < least:
        raise CalcError(
            f"It must be {called} of more than 0."
            if least == 1
            else f"It must be at least {_limit(kind, least)}."
        )
    return whole


def _limit(kind: Kind, whole: int) -> str:
    """A limit in words, in the largest metric unit in which it is short."""
    steps = (
        ((10**9, "km"), (10**6, "m"), (10**4, "cm"), (1000, "mm"))
        if kind == "length"
        else ((10**6, "kg"), (1000, "g"))
    )
    for size, name in steps:
        if whole >= size:
            return f"{_plain(Fraction(whole, size))} {name}"
    return f"{_plain(Fraction(whole, 1000))} {'mm' if kind == 'length' else 'g'}"


def _plain(value: Fraction) -> str:
    """A limit or an echoed figure with up to four decimals, for a message."""
    text = f"{half_up(value * 10_000):05d}"
    whole, decimals = f"{int(text[:-4]):,}", text[-4:].rstrip("0")
    return f"{whole}.{decimals}" if decimals else whole


def _percent_word(scan: Scanner) -> str:
    start = scan.at
    word = scan.word()
    if word == "per":
        word += scan.word()
    if word in ("", "percent", "pct"):
        return word
    scan.at = start
    scan.skip_spaces()
    raise scan.error(f"“{word}” cannot be read here. Give {scan.wanted}.")


_LENGTH_BASES = (UNIT_OF_WORD["in"], UNIT_OF_WORD["cm"])


def _base(scan: Scanner) -> tuple[int, str]:
    """What stands after "per": a whole number (1 if none) of inches or centimetres."""
    times = 1
    if scan.number_ahead():
        number = scan.number()
        if number.value.denominator != 1:
            raise scan.error("The length must be a whole number of inches or centimetres.", number.start)
        times = int(number.value)
    if scan.take(*_INCH_MARKS):
        return times, "in"
    scan.skip_spaces()
    at = scan.at
    word = scan.word()
    unit = UNIT_OF_WORD.get(word)
    if unit not in _LENGTH_BASES:
        named = f"“{word}” is not taken here" if word else "The length is missing"
        raise scan.error(f"{named}. Give {scan.wanted}.", at)
    return times, unit.short


def _checked_density(scan: Scanner, count: Fraction, times: int, base: str) -> Density:
    if not 1 <= times <= 100:
        raise CalcError(f"The length must be 1 to 100 inches or centimetres. Give {scan.wanted}.")
    if count.denominator > MOST_DENOMINATOR:
        raise CalcError("Write the number with at most four decimals.")
    if not count:
        raise CalcError(f"It must be more than 0. Give {scan.wanted}.")
    density = Density(count, times * int(UNIT_OF_WORD[base].size))
    per_inch = density.number_in(um_per("inch"))
    if per_inch > MOST_PER_INCH:
        raise CalcError(
            f"That is closer than can be woven: at most {MOST_PER_INCH:,} to the inch. Check the unit."
        )
    if per_inch < LEAST_PER_INCH:
        raise CalcError("That is more open than can be woven: at least 1 to 10 inches. Check the unit.")
    return density


def _other_side(scan: Scanner, first: Kind) -> tuple[Kind, Fraction]:
    """What follows "/", "per", "=" or "weigh" in a grist: exact um or mg."""
    at = scan.at
    sign = scan.take("/", "=") or scan.word()
    if sign not in ("/", "=", "per", "weigh", "weighs"):
        raise scan.error(f"The other half is missing. Give {scan.wanted}.", at)
    if sign in ("/", "per") and not scan.number_ahead():
        unit = _unit(scan, ("length", "mass"))
        if unit is None:
            raise scan.error(f"The unit is missing at the end. Give {scan.wanted}.")
        return unit.kind, unit.size
    return _terms(scan, ("length", "mass"), None)
