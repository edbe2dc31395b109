"""Will a warp go on a loom: its width against the loom's and the reed's."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from stash.calc.losses import after_losses

Fits = Literal["wide enough", "barely", "too wide"]
LEAST_CLEARANCE_UM = 6_350
"""A quarter inch is left free at each side if it can be (common practice: 1/4 to 1/2 in)."""


@dataclass(frozen=True, slots=True)
class Room:
    """Width in the reed against what the loom or reed has; all in um."""

    in_reed_um: Fraction
    has_um: int

    @property
    def clearance_um(self) -> Fraction:
        """What is left at each side; below 0 where the warp is wider."""
        return (self.has_um - self.in_reed_um) / 2

    @property
    def fits(self) -> Fits:
        if self.clearance_um < 0:
            return "too wide"
        return "barely" if self.clearance_um < LEAST_CLEARANCE_UM else "wide enough"

    def ceiling_um(self, losses: tuple[Fraction, ...]) -> Fraction:
        """The widest finished piece with that clearance; a closer sett moves it by nothing."""
        return after_losses(max(Fraction(0), Fraction(self.has_um - 2 * LEAST_CLEARANCE_UM)), losses)
