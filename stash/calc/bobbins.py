"""Bobbins: how many are wound for a piece, so that none runs out where a join would show."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from stash.calc.errors import CalcError
from stash.calc.grist import Grist

USUAL_MG = 11_000
"""A 4-inch bobbin holds 8 to 14 g of medium cotton (common practice, no source)."""
LEFT_MG = (1_000, 3_000)
"""What stays on each bobbin in the end (common practice)."""


@dataclass(frozen=True, slots=True)
class Bobbins:
    """Of one shade: what a piece takes of it, and the bobbins for that."""

    key: str
    length_um: Fraction
    mass_mg: Fraction
    per_piece: int
    in_all: int
    """Every piece begins with full bobbins: rounded up for each, never from the total."""


def bobbins_for(key: str, length_um: Fraction, grist: Grist, holds_mg: int, pieces: int) -> Bobbins:
    """Bobbins of `holds_mg` for `length_um` of weft in each piece. Raises CalcError if a bobbin holds nothing."""
    if holds_mg < 1:
        raise CalcError("A bobbin holds more than nothing.", field="bobbin")
    mass = grist.mass_mg_of(length_um)
    each = ceil(mass / holds_mg)
    return Bobbins(key, length_um, mass, each, each * pieces)
