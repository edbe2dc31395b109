"""Warp length: from the finished length of a piece to what is wound, and how many pieces a warp gives."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from stash.calc.errors import CalcError
from stash.calc.losses import before_losses
from stash.calc.plan import KM_UM, Plan

LONGEST_WARP_UM = 10 * KM_UM


@dataclass(frozen=True, slots=True)
class Length:
    """The parts of the warp length, in um. Header, sample and loom waste stand in the plan."""

    woven_um: Fraction
    """Woven for one piece, under tension, hems included."""
    woven_total_um: Fraction
    """Woven for all pieces; the sample is not in it."""
    with_take_up_um: Fraction
    """All pieces and the sample, with the take-up."""
    gaps_um: int
    """Between the pieces: one gap fewer than there are pieces."""
    exact_um: Fraction
    """with take-up + gaps + header + loom waste, before rounding."""
    warp_um: int
    """What is wound: rounded up to the board, or to a whole um where there is none."""

    @property
    def board_buys_um(self) -> Fraction:
        """What rounding up to the board gives beyond the need."""
        return self.warp_um - self.exact_um


def woven_um(plan: Plan) -> Fraction:
    """Woven length of one piece under tension, in um: finished length and hems, the losses divided out."""
    return before_losses(plan.along_um + plan.hem_um, plan.losses_along)


def work_length(plan: Plan) -> Length:
    """Raises CalcError naming the field to change when the warp would reach 10 km."""
    length = length_for(plan, plan.pieces)
    if length.warp_um >= LONGEST_WARP_UM:
        raise CalcError(
            "The warp would be 10 km (10,936 yd) or longer: give fewer pieces, or plan several warps.",
            field="pieces" if plan.pieces > 1 else "along_um",
        )
    return length


def length_for(plan: Plan, pieces: int) -> Length:
    """The lengths for so many pieces instead of those planned, at least 1; no limit is checked."""
    woven = woven_um(plan)
    woven_total = pieces * woven
    with_take_up = (woven_total + plan.sample_um) * (1 + plan.take_up)
    gaps = (pieces - 1) * plan.gap_um
    exact = with_take_up + gaps + plan.header_um + plan.waste_um
    step = plan.board_um or 1
    return Length(woven, woven_total, with_take_up, gaps, exact, ceil(exact / step) * step)


def pieces_from_warp(plan: Plan, warp_um: int | Fraction) -> int:
    """How many whole pieces of the plan a warp of that length gives: the warp length turned round."""
    fixed = plan.waste_um + plan.header_um + plan.sample_um * (1 + plan.take_up)
    each = woven_um(plan) * (1 + plan.take_up) + plan.gap_um
    return max(0, floor((warp_um - fixed + plan.gap_um) / each))
