"""Grist: how much length goes to how much mass, as one exact pair of integers."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import gcd

from stash.calc.errors import CalcError

UM_PER_YD = 914_400
# 1 lb = 453.59237 g exactly, so a hundred pounds are a whole number of milligrams.
MG_PER_100_LB = 45_359_237


@dataclass(frozen=True, slots=True)
class Grist:
    """`length_um` micrometres of the yarn weigh `mass_mg` milligrams.

    Kept in lowest terms, so that two equal grists are equal values. 1 um/mg is 1 m/kg.
    Raises CalcError unless both are positive.
    """

    length_um: int
    mass_mg: int

    def __post_init__(self) -> None:
        if self.length_um <= 0:
            raise CalcError("The length must be more than nothing.", field="length_um")
        if self.mass_mg <= 0:
            raise CalcError("The mass must be more than nothing.", field="mass_mg")
        common = gcd(self.length_um, self.mass_mg)
        object.__setattr__(self, "length_um", self.length_um // common)
        object.__setattr__(self, "mass_mg", self.mass_mg // common)

    @classmethod
    def from_um_per_mg(cls, ratio: Fraction) -> Grist:
        return cls(ratio.numerator, ratio.denominator)

    @classmethod
    def from_yd_per_lb(cls, yards: Fraction | int) -> Grist:
        return cls.from_um_per_mg(Fraction(yards) * UM_PER_YD * 100 / MG_PER_100_LB)

    @property
    def um_per_mg(self) -> Fraction:
        return Fraction(self.length_um, self.mass_mg)

    @property
    def yd_per_lb(self) -> Fraction:
        return self.um_per_mg * MG_PER_100_LB / (UM_PER_YD * 100)

    @property
    def tex(self) -> Fraction:
        """Grams per kilometre (ISO 1144)."""
        return 1_000_000 / self.um_per_mg

    def length_um_of(self, mass_mg: int | Fraction) -> Fraction:
        """Exact length, in um, of so many mg."""
        return mass_mg * self.um_per_mg

    def mass_mg_of(self, length_um: int | Fraction) -> Fraction:
        """Exact mass, in mg, of so many um."""
        return length_um / self.um_per_mg
