"""Further beams: shades wound apart, because their ends take up more or less than the others."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from stash.calc.errors import CalcError
from stash.calc.limits import check_share, check_within

MOST_BEAMS = 4


@dataclass(frozen=True, slots=True)
class Beam:
    """Beam 2, 3 or 4 and the shades wound on it; the plan's own take-up is that of beam 1.

    Two weaves side by side need two warp lengths for one length of cloth (A. Wolfensberger, Theory of Silk
    Weaving, 1921, p. 97: 106 yd of satin and 110 yd of repp for 100 yd).
    """

    number: int
    take_up: Fraction
    """A share of the woven length."""
    keys: tuple[str, ...]

    def __post_init__(self) -> None:
        check_within("beams", self.number, 2, MOST_BEAMS, "as the number of a further beam")
        check_share("beams", self.take_up)


def check_beams(beams: Iterable[Beam]) -> None:
    """Raises CalcError where a beam or a shade comes twice."""
    numbers: set[int] = set()
    keys: dict[str, int] = {}
    for beam in beams:
        if beam.number in numbers:
            raise CalcError(f"Beam {beam.number} is listed twice.", field="beams")
        numbers.add(beam.number)
        for key in beam.keys:
            if key in keys:
                raise CalcError(
                    f"{key} cannot be wound on beam {keys[key]} and on beam {beam.number}: give the ends of "
                    "one of them another key.",
                    field="beams",
                )
            keys[key] = beam.number
