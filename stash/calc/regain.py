"""Moisture in yarn: regain, the water a fibre holds as a share of its dry mass, and what it does to a weight.

Commercial regains are conventions and differ from book to book; what a fibre really holds follows the room. The
range kept here runs from the lowest to the highest figure found, each with its source, and serves only to
say whether a difference on the scale may be water.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from stash.calc.errors import CalcError

EU = "Regulation (EU) No 1007/2011, Annex IX (agreed allowance)"
ASTM = "ASTM D1909-13, as quoted in table 10 of an open-access paper of 2020 (Bioresources and Bioprocessing)"
MORTON_HEARLE = (
    "W. E. Morton and J. W. S. Hearle, Physical Properties of Textile Fibres, 2008, at 65 % relative humidity "
    "and 20 °C, as quoted in table 10 of an open-access paper of 2020 (Bioresources and Bioprocessing)"
)


@dataclass(frozen=True, slots=True)
class Regain:
    """What a fibre holds of water, as shares of its dry mass. `animal` fibres hold most and swing widest."""

    low: Fraction
    low_source: str
    high: Fraction
    high_source: str
    animal: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.high:
            raise CalcError("A regain is nothing or more, the lower one first.", field="low")


def _of(low: str, low_source: str, high: str, high_source: str, *, animal: bool = False) -> Regain:
    return Regain(Fraction(low) / 100, low_source, Fraction(high) / 100, high_source, animal)


COTTON = _of("7", MORTON_HEARLE, "8.5", EU)
LINEN = _of("7", MORTON_HEARLE, "12", EU)
HEMP = _of("8", MORTON_HEARLE, "12", EU)
JUTE = _of("12", MORTON_HEARLE, "17", EU)
SILK = _of("10", MORTON_HEARLE, "11", EU, animal=True)
WOOL = _of("13.6", ASTM, "18.25", EU, animal=True)

# Words by which people name a fibre; any word of the name may be one: "merino wool", "tussah silk".
_WORDS = {
    "cotton": COTTON,
    "linen": LINEN,
    "flax": LINEN,
    "hemp": HEMP,
    "jute": JUTE,
    "silk": SILK,
    "tussah": SILK,
    "wool": WOOL,
    "merino": WOOL,
    "alpaca": WOOL,
    "mohair": WOOL,
    "cashmere": WOOL,
    "camel": WOOL,
    "yak": WOOL,
    "angora": WOOL,
    "llama": WOOL,
}


def regain_of(fibre: str) -> Regain | None:
    """The regain of a fibre by its name as people write it; None for a fibre that the table does not know."""
    words = fibre.lower().replace("-", " ").split()
    return next((_WORDS[word] for word in reversed(words) if word in _WORDS), None)


def mass_at_regain(mass_mg: int | Fraction, then: Fraction, now: Fraction) -> Fraction:
    """What yarn that weighed `mass_mg` at one regain weighs at another: mass x (1 + now) / (1 + then), exact."""
    return Fraction(mass_mg) * (1 + now) / (1 + then)


def blended(fibres: Iterable[tuple[str, int]]) -> tuple[Fraction, Fraction] | None:
    """Lowest and highest regain of a blend from (fibre, per cent) pairs, the shares taken as of the dry mass.

    None when there are no fibres, or the table does not know one of them.
    """
    low, high, total = Fraction(0), Fraction(0), 0
    for fibre, percent in fibres:
        known = regain_of(fibre)
        if known is None:
            return None
        low += known.low * percent
        high += known.high * percent
        total += percent
    return (low / total, high / total) if total else None
