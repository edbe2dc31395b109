"""Lumpy use: what is usually taken of a shade in a week, where most weeks take nothing and some take a lot.

A mean of all weeks would do for the rate, but takes old weeks for as much as new ones; smoothing every week is worse,
since it is highest just after something was taken. Croston (1972) smooths the amounts and the intervals between
them apart, and only when something was taken; Syntetos and Boylan (2005) took away his bias. Pages use the latter.

J. D. Croston, "Forecasting and stock control for intermittent demands", Operational Research Quarterly 23 (1972)
289-303. A. A. Syntetos and J. E. Boylan, "The accuracy of intermittent demand estimates", International Journal of
Forecasting 21 (2005) 303-314. A. A. Syntetos, J. E. Boylan and J. D. Croston, "On the categorization of demand
patterns", Journal of the Operational Research Society 56 (2005) 495-503. All from memory but the cut-offs of the last.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from math import isqrt

from stash.calc.errors import CalcError
from stash.calc.outlook import Taken, UsualUse

WEEKS = 104
"""How far the ledger is looked back: two years hold each season twice. Common practice, no source."""
LEAST_WEEKS = 13
"""A quarter of a year: less says nothing of how often. Common practice, no source."""
LEAST_TIMES = 3
"""Fewer takings have no usual amount. Common practice, no source."""
QUIET_WEEKS = 52
"""Croston's method learns nothing from weeks without use, so it never forgets: after a year of them nothing is usual."""
ALPHA = Fraction(1, 10)
"""How much the latest taking weighs. 0.05 to 0.2 are usual (common practice); the published examples take 0.1."""

CUT_INTERVAL = Fraction(132, 100)
CUT_SCATTER = Fraction(49, 100)


class Pattern(StrEnum):
    """What a series is like (Syntetos, Boylan and Croston 2005): how often, and how equal the amounts."""

    SMOOTH = "smooth"
    INTERMITTENT = "intermittent"
    ERRATIC = "erratic"
    LUMPY = "lumpy"


@dataclass(frozen=True, slots=True)
class Smoothed:
    """The smoothed amount of one taking, and the smoothed number of periods from one to the next."""

    size: Fraction
    interval: Fraction
    alpha: Fraction

    @property
    def croston(self) -> Fraction:
        """Per period, by Croston (1972): too high by about alpha / 2 on average."""
        return self.size / self.interval

    @property
    def sba(self) -> Fraction:
        """Per period, by the Syntetos-Boylan approximation: Croston's without his bias."""
        return (1 - self.alpha / 2) * self.croston


def smoothed(series: Sequence[int], alpha: Fraction = ALPHA) -> Smoothed | None:
    """Of what was taken in each period, the oldest first; None where nothing ever was.

    Begins with the first amount and the first interval, which counts from the start of the series. Raises CalcError
    for an amount below 0, or an alpha that is not above 0 and at most 1.
    """
    if not 0 < alpha <= 1:
        raise CalcError("The weight of the latest taking is above 0 and at most 1.", field="alpha")
    of, part = alpha.denominator, alpha.numerator
    # Both are over `scale`, a power of alpha's denominator: whole numbers are many times quicker than Fractions.
    size = interval = 0
    scale, since = 1, 0
    for amount in series:
        if amount < 0:
            raise CalcError("What was taken is not below 0.", field="series")
        since += 1
        if not amount:
            continue
        if not size:
            size, interval = amount, since
        else:
            size = (of - part) * size + part * amount * scale
            interval = (of - part) * interval + part * since * scale
            scale *= of
        since = 0
    return Smoothed(Fraction(size, scale), Fraction(interval, scale), alpha) if size else None


def pattern(series: Sequence[int]) -> Pattern | None:
    """The class of a series; None where nothing was ever taken.

    The interval is periods by takings, the scatter the squared coefficient of variation of the amounts taken, with the
    variance of the population; on a cut-off a series counts to the rougher class.
    """
    amounts = [amount for amount in series if amount]
    if not amounts:
        return None
    times, total = len(amounts), sum(amounts)
    seldom = Fraction(len(series), times) >= CUT_INTERVAL
    uneven = (
        Fraction(times * sum(amount * amount for amount in amounts) - total * total, total * total)
        >= CUT_SCATTER
    )
    if seldom:
        return Pattern.LUMPY if uneven else Pattern.INTERMITTENT
    return Pattern.ERRATIC if uneven else Pattern.SMOOTH


def taken_by_week(changes: Sequence[int]) -> list[int]:
    """What was taken in each week, from the changes of mass on hand in mg, the oldest first; a fall is below 0.

    What comes back in a week, wound back or found to be there after all, takes from the latest weeks before it that
    took something: use is what never came back.
    """
    taken: list[int] = []
    for change in changes:
        taken.append(max(0, -change))
        back, at = max(0, change), len(taken) - 1
        while back and at >= 0:
            less = min(back, taken[at])
            taken[at] -= less
            back -= less
            at -= 1
    return taken


def what_was_taken(series: Sequence[int]) -> Taken:
    """How long the ledger was looked at, how often something was taken, and how many weeks ago last."""
    times = sum(1 for amount in series if amount)
    ago = next((at for at, amount in enumerate(reversed(series)) if amount), None)
    return Taken(len(series), times, ago)


class TooLittle(StrEnum):
    """Why nothing is called usual."""

    NOTHING = "nothing"
    SHORT = "short"
    FEW = "few"
    QUIET = "quiet"


def too_little(seen: Taken) -> TooLittle | None:
    """Why there is no estimate; None where there is one."""
    if seen.ago is None:
        return TooLittle.NOTHING
    if seen.weeks < LEAST_WEEKS:
        return TooLittle.SHORT
    if seen.times < LEAST_TIMES:
        return TooLittle.FEW
    return TooLittle.QUIET if seen.ago >= QUIET_WEEKS else None


def usual_use(series: Sequence[int]) -> UsualUse | None:
    """By week in mg, the oldest first. None where that is too little to go by (`too_little`).

    The rate is the Syntetos-Boylan approximation, rounded to a mg; the scatter is the standard deviation of the weeks,
    those without use among them, rounded up.
    """
    seen = what_was_taken(series)
    if too_little(seen):
        return None
    found = smoothed(series)
    assert found is not None, "something was taken"
    number, total = len(series), sum(series)
    squares = number * sum(amount * amount for amount in series) - total * total
    variance = Fraction(squares, number * (number - 1))
    root = isqrt(variance.numerator // variance.denominator)
    return UsualUse(
        week_mg=int(found.sba + Fraction(1, 2)),
        sd_mg=root if root * root == variance else root + 1,
        weeks=number,
        times=seen.times,
    )
