"""Density: so many ends, picks or dents to a length, as they are typed and as they are reckoned."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from stash.calc.errors import CalcError

UM_PER_INCH = 25_400
UM_PER_CM = 10_000
UM_PER_10_CM = 100_000


@dataclass(frozen=True, slots=True)
class Density:
    """`count` ends, picks or dents in every `per_um` micrometres, e.g. 18 in 25,400 um for 18 epi.

    The base is kept because a figure is shown on the base on which it was given: a reed of 40 dents in
    10 cm is not "10.16 to the inch" to the person who owns it. Raises CalcError unless both are positive.
    """

    count: Fraction
    per_um: int = UM_PER_INCH

    def __post_init__(self) -> None:
        if self.count <= 0:
            raise CalcError("There must be more than none of them to the length.", field="count")
        if self.per_um <= 0:
            raise CalcError("The length must be more than nothing.", field="per_um")

    @property
    def per_micrometre(self) -> Fraction:
        return self.count / self.per_um

    def number_in(self, length_um: int | Fraction) -> Fraction:
        """How many lie in a length of so many um, exactly (not yet whole)."""
        return self.count * length_um / self.per_um

    def length_um_of(self, number: int | Fraction) -> Fraction:
        """How long so many of them are, in um, exactly."""
        return number * self.per_um / self.count
