"""Reorder level: what should still be there when an order goes out, so that usual use does not run dry meanwhile.

Use in the lead time, and a safety above it. The safety is the larger of two: use in the supplier's usual delay, the
simple way of small studios (common practice, no source), and safety factor x scatter of a week x root of the weeks,
as textbooks have it (E. A. Silver, D. F. Pyke & R. Peterson, Inventory Management and Production Planning and
Scheduling, 3rd ed. 1998, ch. 7, from memory). The factor is the standard normal quantile of how sure it is to be.
The normal quantile and the root are the only floats here; masses made of them are rounded up to whole mg.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import ceil, sqrt
from statistics import NormalDist

from stash.calc.errors import CalcError
from stash.calc.outlook import UsualUse

MILLION = 1_000_000


@lru_cache(maxsize=64)
def safety_factor(sure: Fraction | float) -> float:
    """Standard normal quantile of the share of times between two orders in which nothing runs out; 0.95 gives 1.6449.

    Raises CalcError unless the share is from a half on and below one.
    """
    if not 0.5 <= sure < 1:
        raise CalcError("Be sure from 50 % on, and never wholly: no stock is enough for that.", field="sure")
    return NormalDist().inv_cdf(float(sure)) if sure != 0.5 else 0.0


def scatter_in(
    periods: Fraction | float,
    sd: Fraction | float,
    *,
    mean: Fraction | float = 0,
    periods_sd: Fraction | float = 0,
) -> float:
    """Standard deviation of use over a lead time of so many periods, in the unit of `sd`, which is that of one period.

    With `periods_sd` the lead time scatters too, about which `mean` use a period matters: the root of
    L x sd^2 + mean^2 x periods_sd^2. Raises CalcError for what is below nothing.
    """
    if min(periods, sd, mean, periods_sd) < 0:
        raise CalcError("Use, its scatter and a lead time are not below 0.", field="periods")
    return sqrt(periods * sd**2 + mean**2 * periods_sd**2)


def safety_stock(sure: Fraction | float, scatter: float) -> float:
    """So much above the use in the lead time; `scatter` as `scatter_in` has it, and in its unit."""
    return safety_factor(sure) * scatter


@dataclass(frozen=True, slots=True)
class Level:
    """A computed reorder level in whole mg, each part rounded up."""

    lead_mg: int
    """Use in the lead time."""
    delay_mg: int
    """Use in the usual delay."""
    scatter_mg: int
    """What the scatter of the weeks asks for."""

    @property
    def safety_mg(self) -> int:
        return max(self.delay_mg, self.scatter_mg)

    @property
    def mg(self) -> int:
        return self.lead_mg + self.safety_mg


def reorder_level(use: UsualUse, lead_days: int, late_days: int, sure_ppm: int) -> Level:
    """Of a shade that is bought from somebody who takes `lead_days`, and usually `late_days` more. Raises CalcError."""
    if lead_days < 0 or late_days < 0:
        raise CalcError("A parcel takes no fewer than 0 days.", field="lead_days")
    weeks = Fraction(lead_days, 7)
    factor_of = safety_stock(Fraction(sure_ppm, MILLION), scatter_in(weeks, use.sd_mg))
    return Level(
        lead_mg=ceil(use.week_mg * weeks),
        delay_mg=ceil(use.week_mg * Fraction(late_days, 7)),
        scatter_mg=ceil(factor_of),
    )
