"""Units of length, mass and yarn count: one pint registry with exact fractions, built on first use.

Typed text never comes here: `quantity.py` reads it with a grammar of its own and asks only for factors.
Importing this module is cheap, since pint is imported (about half a second) and its registry built when the
first factor is asked for; every factor is then kept, so that nothing on a page's way touches pint again.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint

# Units of the trade that pint lacks, or (cotton_count, metric_count) knows under names that change between
# its releases. Sources: J. T. Taylor, Cotton Weaving and Designing, 6th ed. 1909, ch. XII (cotton, lea,
# dram, old denier); W. H. Dooley, Textiles, 1910, pp. 49-52, 209 (worsted, run, cut, spun silk);
# A. E. Blanco, Piece Goods Manual, 1917, pp. 9, 17, 110 (bump, Galashiels, French cotton, Yorkshire skein);
# Encyclopaedia Britannica, 11th ed. 1911, "Jute" (spyndle); ASTM D2260, Table 1 (American grain count).
_DEFINITIONS = (
    # so much length to a mass: a bigger number is a finer yarn
    "cotton_count = 840 * yard / pound",
    "spun_silk_count = 840 * yard / pound",
    "worsted_count = 560 * yard / pound",
    "woollen_run = 1600 * yard / pound",
    "woollen_cut = 300 * yard / pound",
    "linen_lea = 300 * yard / pound",
    "yorkshire_skein = 256 * yard / pound",
    "galashiels_cut = 300 * yard / (24 * ounce)",
    "bump_count = yard / ounce",
    "french_cotton_count = 1000 * meter / (500 * gram)",
    "metric_count = kilometer / kilogram",
    # so much mass to a length: a bigger number is a thicker yarn
    "silk_dram_count = ounce / (16 * 1000 * yard)",
    "old_silk_denier = 3 * ounce / (1600 * 520 * yard)",
    "jute_spyndle = pound / (14400 * yard)",
    "american_grain_count = grain / (120 * yard)",
)


@cache
def registry() -> pint.UnitRegistry[Fraction]:
    """The one registry. Takes about a second the first time; call it at start to have that behind you."""
    import pint

    units: pint.UnitRegistry[Fraction] = pint.UnitRegistry(non_int_type=Fraction)
    for definition in _DEFINITIONS:
        units.define(definition)
    return units


def _factor(unit: str, to: str) -> Fraction:
    units = registry()
    factor = units.convert(Fraction(1), units.parse_units(unit), units.parse_units(to))
    # A float here would be a slip in a definition, and would poison every figure after it.
    if not isinstance(factor, Fraction | int):
        raise TypeError(f"pint gave {factor!r} for {unit}, not a fraction")
    return Fraction(factor)


@cache
def um_per(unit: str) -> Fraction:
    """Micrometres in one `unit`, a unit of length by its pint name: um_per("yard") == 914_400."""
    return _factor(unit, "micrometer")


@cache
def mg_per(unit: str) -> Fraction:
    """Milligrams in one `unit`, a unit of mass by its pint name: mg_per("kilogram") == 1_000_000."""
    return _factor(unit, "milligram")


@cache
def um_per_mg_at(unit: str) -> Fraction:
    """Micrometres to a milligram in a yarn of number 1, for a unit that states length per mass."""
    return _factor(unit, "micrometer / milligram")


@cache
def mg_per_um_at(unit: str) -> Fraction:
    """Milligrams to a micrometre in a yarn of number 1, for a unit that states mass per length."""
    return _factor(unit, "milligram / micrometer")
