"""Which sleys of the reeds owned reach a sett, exactly or nearly, and in which order they are worth trying."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import floor, gcd, lcm
from typing import Literal

from stash.calc.colour_order import Order
from stash.calc.density import Density
from stash.calc.sley import MOST_IN_DENT, Sley

Close = Literal["exact", "same", "near"]
SAME = Fraction(25, 1000)
"""Up to this share off, a sett is called the same (common practice: 2 to 3 %)."""
NEAR = Fraction(5, 100)
"""Up to this share off, a sley is offered with a warning (common practice)."""
LONGEST_REPEAT = 5
_ORDER: dict[Close, int] = {"exact": 0, "same": 1, "near": 2}
_FINE_REPEAT = 8


@dataclass(frozen=True, slots=True)
class Offer:
    """A sley in one reed; `off` is the sett reached less the one asked for, as a share of the latter."""

    reed_key: int
    reed: Density
    sley: Sley
    off: Fraction

    @property
    def close(self) -> Close:
        if not self.off:
            return "exact"
        return "same" if abs(self.off) <= SAME else "near"

    @property
    def sett(self) -> Density:
        return self.sley.reached(self.reed)

    @property
    def rank(self) -> tuple[int, int, bool, Fraction, int]:
        """Exact, called the same, near; in each a short repeat, then dents of one and two ends, then the closest."""
        return _ORDER[self.close], self.sley.dents, self.sley.fullest > 2, abs(self.off), self.reed_key


def off_by(sett: Density, reed: Density, sley: Sley) -> Fraction:
    """The sett reached less the one asked for, as a share of the latter."""
    return sley.reached(reed).per_micrometre / sett.per_micrometre - 1


def near_enough(sett: Density, reed: Density, sley: Sley) -> bool:
    """Would this sley still be offered for the sett?"""
    return abs(off_by(sett, reed, sley)) <= NEAR


def offers(sett: Density, reeds: Iterable[tuple[int, Density]], longest: int = LONGEST_REPEAT) -> list[Offer]:
    """Every sley within 5 % of the sett whose repeat has at most `longest` dents, the best first.

    `reeds` are (key, dents to the length); a metric reed counts by its true figure. No dent takes over 4 ends;
    an empty dent is a fair means for a coarse sett (common practice).
    """
    found = []
    for key, reed in reeds:
        for sley in _sleys_near(sett.per_micrometre / reed.per_micrometre, longest):
            offer = Offer(key, reed, sley, off_by(sett, reed, sley))
            if abs(offer.off) <= NEAR:
                found.append(offer)
    return sorted(found, key=lambda offer: offer.rank)


def nearest(sett: Density, reeds: Iterable[tuple[int, Density]], longest: int = LONGEST_REPEAT) -> Offer:
    """The closest that these reeds come to the sett, however far that is; `reeds` is not empty."""
    every = [
        Sley(ends, dents)
        for dents in range(1, longest + 1)
        for ends in range(1, MOST_IN_DENT * dents + 1)
        if gcd(ends, dents) == 1
    ]
    found = [Offer(key, reed, sley, off_by(sett, reed, sley)) for key, reed in reeds for sley in every]
    return min(found, key=lambda offer: (abs(offer.off), offer.rank))


def _sleys_near(ends_per_dent: Fraction, longest: int) -> Iterable[Sley]:
    low, high = ends_per_dent * (1 - NEAR), ends_per_dent * (1 + NEAR)
    for dents in range(1, longest + 1):
        for ends in range(max(1, floor(low * dents)), min(floor(high * dents), MOST_IN_DENT * dents) + 1):
            if gcd(ends, dents) == 1:
                yield Sley(ends, dents)


def streak_period(sley: Sley, order: Order) -> int:
    """After so many ends faint streaks may come again; 0 where the sley treats the shades alike.

    Where shades change every few ends and some dents are fuller than others, the fullest dents may hold now this
    pair and now that: A and B in turn, sleyed 1-2, share a dent as B A and as A B, and the streaks come every
    lcm(3, 2) ends, mostly until washing (common practice, no source). Orders that come again after more than
    eight ends hide it.
    """
    repeat = _shortest_repeat(order)
    if sley.even or len(set(repeat)) < 2:
        return 0
    period = lcm(sley.ends, len(repeat))
    fullest, at, taken = set(), 0, 0
    while at < period:
        number = sley.pattern[taken % sley.dents]
        if number == sley.fullest > 1:
            fullest.add(tuple(repeat[(at + place) % len(repeat)] for place in range(number)))
        at += number
        taken += 1
    return period if len(fullest) > 1 else 0


def _shortest_repeat(order: Order) -> tuple[str, ...]:
    """The shortest run of ends that the order is made of, if it is short enough to be seen as one colour."""
    keys = tuple(order.sequence())
    for length in range(1, min(_FINE_REPEAT, len(keys)) + 1):
        if len(keys) % length == 0 and keys[:length] * (len(keys) // length) == keys:
            return keys[:length]
    return ()
