"""Fringes: warp that is left unwoven between the pieces and at both ends of the warp."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from stash.calc.errors import CalcError
from stash.calc.limits import check_length

MOST_LOSS = Fraction(9, 10)


@dataclass(frozen=True, slots=True)
class Fringe:
    """A fringe at both ends of every piece; a finished length of 0 is no fringe.

    `loss` is what it loses from the loom to the finished piece, a share of its length on the loom: a twisted
    fringe loses 10 to 15 % more of its length than a plain one (common practice).
    """

    finished_um: int = 0
    loss: Fraction = Fraction(0)
    twisted: bool = False
    knot_um: int = 0
    """Beyond the fringe, what it takes to tie an outer one on; about 3 in (common practice)."""

    def __post_init__(self) -> None:
        check_length("fringe_um", self.finished_um, least=0)
        check_length("fringe_knot_um", self.knot_um, least=0)
        if not 0 <= self.loss <= MOST_LOSS:
            raise CalcError("Give the loss of the fringe as a share from 0 to 90 %.", field="fringe_loss")

    def __bool__(self) -> bool:
        return self.finished_um > 0

    @property
    def on_loom_um(self) -> Fraction:
        """Length of one fringe on the loom: the loss is divided out."""
        return self.finished_um / (1 - self.loss)

    def beyond_um(self, waste_um: int) -> Fraction:
        """What an outer fringe and its knot need beyond the loom waste at their end of the warp."""
        if not self:
            return Fraction(0)
        return max(Fraction(0), self.on_loom_um + self.knot_um - waste_um)
