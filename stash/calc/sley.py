"""Sleying: how many ends every dent of the reed takes, so that an uneven sley reaches a sett its reed does not have.

A place is where an end stands in the reed; ends that are doubled in the dent stand in one place together (see
`Layout`). A floating selvedge stands in a dent of its own at either edge, whatever the sley (common practice).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import gcd
from typing import Literal

from stash.calc.density import Density
from stash.calc.errors import CalcError

Keeps = Literal["ends", "width"]
MOST_IN_DENT = 4
"""More than 3 or 4 ends in a dent risk marks that last, and rub (common practice)."""
LONGEST_SLEY = 40
_EXAMPLE = "Write how many ends each dent of the repeat takes: 1-1-2."


@dataclass(frozen=True, slots=True)
class Sley:
    """`ends` over `dents` of the repeat, in lowest terms, as evenly as whole ends allow.

    Neighbouring dents differ by one end at most. Raises CalcError where a dent would take more than four.
    """

    ends: int
    dents: int

    def __post_init__(self) -> None:
        if self.ends < 1 or not 1 <= self.dents <= LONGEST_SLEY:
            raise CalcError(f"A sley is repeated after 1 to {LONGEST_SLEY} dents. {_EXAMPLE}", field="sley")
        if self.ends > MOST_IN_DENT * self.dents:
            raise CalcError(f"A dent takes at most {MOST_IN_DENT} ends.", field="sley")
        shared = gcd(self.ends, self.dents)
        object.__setattr__(self, "ends", self.ends // shared)
        object.__setattr__(self, "dents", self.dents // shared)

    @property
    def pattern(self) -> tuple[int, ...]:
        """Ends in each dent of the repeat, from the left."""
        return tuple(
            (dent + 1) * self.ends // self.dents - dent * self.ends // self.dents
            for dent in range(self.dents)
        )

    @property
    def text(self) -> str:
        """As it is said at the loom: 1-1-2."""
        return "-".join(map(str, self.pattern))

    @property
    def fullest(self) -> int:
        return max(self.pattern)

    @property
    def even(self) -> bool:
        """Every dent takes the same."""
        return self.dents == 1

    def reached(self, reed: Density) -> Density:
        """The sett that this sley gives in a reed, on the base on which the reed is stamped."""
        return Density(reed.count * self.ends / self.dents, reed.per_um)

    def dents_used(self, places: int, floating: bool = False) -> int:
        """Dents from the first to the last that holds an end; `places` counts floating selvedges too."""
        if floating:
            return 2 + self.dents_used(places - 2)
        full, rest = divmod(places, self.ends)
        used = full * self.dents
        for taken in self.pattern:
            if rest <= 0:
                break
            rest -= taken
            used += 1
        return used

    def in_dents(self, places: int, floating: bool = False) -> tuple[int, ...]:
        """How many places every dent holds, from the first used to the last; they add up to `places`."""
        if floating:
            return (1, *self.in_dents(places - 2), 1)
        held: list[int] = []
        pattern = self.pattern
        while places > 0:
            taken = min(places, pattern[len(held) % self.dents])
            held.append(taken)
            places -= taken
        return tuple(held)


def read_sley(text: str) -> Sley:
    """A sley from its text, 1-1-2. Raises CalcError unless it is the even spread of its ends over its dents."""
    figures = text.replace(" ", "").split("-")
    if not all(figure.isascii() and figure.isdigit() and len(figure) <= 2 for figure in figures):
        raise CalcError(f"“{text[:40]}” is no sley. {_EXAMPLE}", field="sley")
    pattern = tuple(map(int, figures))
    sley = Sley(sum(pattern), len(pattern))
    if sley.pattern * (len(pattern) // sley.dents) != pattern:
        raise CalcError(
            f"{text} does not spread its ends evenly; {sley.text} does, with as many ends in as many dents.",
            field="sley",
        )
    return sley


@dataclass(frozen=True, slots=True)
class Sleyed:
    """A sley chosen in a reed, and what stays as planned where it reaches another sett: the ends or the width."""

    reed: Density
    sley: Sley
    keeps: Keeps = "ends"

    @property
    def sett(self) -> Density:
        return self.sley.reached(self.reed)

    def width_um(self, places: int, floating: bool) -> Fraction:
        """Width in the reed: the dents used, each as wide as the reed has it."""
        return self.reed.length_um_of(self.sley.dents_used(places, floating))


@dataclass(frozen=True, slots=True)
class Centred:
    """Where a warp begins in a reed, so that it stands in the middle."""

    dents: int
    """Dents of the whole reed."""
    used: int

    @property
    def first(self) -> int:
        """The first dent used, counted from 1 from the left end of the reed."""
        return (self.dents - self.used) // 2 + 1

    @property
    def left_of_centre(self) -> Fraction:
        """So many dents left of the centre mark the first one begins."""
        return Fraction(self.used, 2)


def centre(reed: Density, length_um: int, used: int) -> Centred:
    """Raises CalcError where the reed has fewer dents than are used."""
    dents = int(reed.number_in(length_um))
    if used > dents:
        raise CalcError(f"The warp takes {used:,} dents; this reed has {dents:,}.", field="reed")
    return Centred(dents, used)
