"""Sett, as advice: how close a yarn lies side by side, and how close it is set in a structure."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import isqrt

from stash.calc.density import Density
from stash.calc.draft import Interlacing
from stash.calc.errors import CalcError
from stash.calc.grist import Grist

USUAL_K = Fraction(9, 10)
"""Diameters per inch = K x sqrt(yd/lb). Sources differ for cotton: 0.90 (Ashenhurst), 0.95 (Taylor 1909)."""
SOFT_SHARE = Fraction(8, 10)
"""Of the closest balanced cloth, for a soft hand (common practice, no source)."""
_FINE = 10**6


@dataclass(frozen=True, slots=True)
class SettAdvice:
    """All per inch: diameters side by side, the closest balanced cloth, and the sett for a soft hand."""

    diameters: Fraction
    closest: Density
    soft: Density


def diameters_per_inch(grist: Grist, k: Fraction = USUAL_K) -> Fraction:
    """How many threads lie side by side in an inch, K x sqrt(yd per lb), to a millionth below.

    J. T. Taylor, Cotton Weaving and Designing, 6th ed., 1909, ch. XII. Raises CalcError unless K is from 0.5 to 1.5.
    """
    if not Fraction(1, 2) <= k <= Fraction(3, 2):
        raise CalcError("Give K from 0.5 to 1.5; 0.90 to 0.95 is usual for cotton.", field="k")
    root = Fraction(isqrt(int(grist.yd_per_lb * _FINE * _FINE)), _FINE)
    return k * root


def closest_sett(diameters: Fraction, ends: int, intersections: int) -> Fraction:
    """The closest balanced cloth per inch: diameters x r / (r + i), with r ends and i intersections in the repeat.

    J. T. Taylor, Cotton Weaving and Designing, 6th ed., 1909, p. 338. Raises CalcError unless both are positive.
    """
    if ends < 1 or intersections < 1:
        raise CalcError("A repeat has ends, and the weft changes sides in it.", field="structure")
    return diameters * ends / (ends + intersections)


def intersections_of(weave: Interlacing) -> int:
    """How often a pick changes sides within the threading's repeat, where it does so most often."""
    threading = tuple(weave.threading)
    return max(
        sum(
            (here in lift) != (there in lift)
            for here, there in zip(threading, (*threading[1:], threading[0]), strict=True)
        )
        for lift in weave.lifts
    )


def advise_sett(
    grist: Grist, ends: int, intersections: int, k: Fraction = USUAL_K, share: Fraction = SOFT_SHARE
) -> SettAdvice:
    """A hint where to begin a sample, never a rule: hand, fibre and use decide. Raises CalcError."""
    if not 0 < share <= 1:
        raise CalcError("Give a share of the closest cloth from 1 to 100 %.", field="share")
    diameters = diameters_per_inch(grist, k)
    closest = closest_sett(diameters, ends, intersections)
    return SettAdvice(diameters, Density(closest), Density(closest * share))
