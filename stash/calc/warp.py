"""Warp length: from the finished length of a piece to what is wound, and how many pieces a warp gives."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor

from stash.calc.errors import CalcError
from stash.calc.limits import KM_UM
from stash.calc.losses import after_losses
from stash.calc.plan import Plan
from stash.calc.sections import work_woven

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
    gaps_um: int | Fraction
    """Between the pieces: one gap, or two fringes, fewer than there are pieces."""
    exact_um: Fraction
    """with take-up + gaps + header + loom waste + what outer fringes need beyond it, before rounding."""
    warp_um: int
    """What is wound: rounded up to the board, or to a whole um where there is none."""
    fringe_excess_um: Fraction
    """What the two outer fringes need beyond the loom waste at their end."""
    take_up: Fraction
    """Of the beam that this is the length for."""
    hem_woven_um: Fraction
    """Each hem of a piece, under tension."""
    body_woven_um: Fraction
    """The body of a piece, under tension."""
    finished_um: Fraction
    """Finished length of the body that results, hems sewn: more than asked where whole repeats are woven."""

    @property
    def board_buys_um(self) -> Fraction:
        """What rounding up to the board gives beyond the need."""
        return self.warp_um - self.exact_um


def woven_um(plan: Plan) -> Fraction:
    """Woven length of one piece under tension, in um: finished length and hems, the losses divided out, and
    what whole repeats of the pick order and added accents make it longer."""
    return work_woven(plan).um


def work_length(plan: Plan, beam: int = 1) -> Length:
    """Raises CalcError naming the field to change when the warp would reach 10 km."""
    length = length_for(plan, plan.pieces, beam)
    if length.warp_um >= LONGEST_WARP_UM:
        raise CalcError(
            "The warp would be 10 km (10,936 yd) or longer: give fewer pieces, or plan several warps.",
            field="pieces" if plan.pieces > 1 else "along_um",
        )
    return length


def length_for(plan: Plan, pieces: int, beam: int = 1) -> Length:
    """The lengths for so many pieces instead of those planned, at least 1; no limit is checked."""
    woven = work_woven(plan)
    take_up = plan.take_up_of(beam)
    woven_total = pieces * woven.um
    with_take_up = (woven_total + plan.sample_um) * (1 + take_up)
    gaps = (pieces - 1) * plan.between_um
    excess = plan.fringe_excess_um
    exact = with_take_up + gaps + plan.header_um + plan.waste_um + excess
    step = plan.board_um or 1
    return Length(
        woven_um=woven.um,
        woven_total_um=woven_total,
        with_take_up_um=with_take_up,
        gaps_um=gaps,
        exact_um=exact,
        warp_um=ceil(exact / step) * step,
        fringe_excess_um=excess,
        take_up=take_up,
        hem_woven_um=woven.hem_um,
        body_woven_um=woven.body_um,
        finished_um=after_losses(woven.body_um, plan.losses_along),
    )


def warp_um_by_pieces(plan: Plan, beam: int = 1) -> Callable[[int], int]:
    """`length_for(plan, pieces, beam).warp_um` for any number of pieces, where many are asked for."""
    take_up, between = 1 + plan.take_up_of(beam), plan.between_um
    each = work_woven(plan).um * take_up + between
    fixed = plan.sample_um * take_up - between + plan.header_um + plan.waste_um + plan.fringe_excess_um
    step = plan.board_um or 1
    # Over one denominator, so that a number of pieces costs whole numbers only.
    below = each.denominator * fixed.denominator
    each_parts, fixed_parts = int(each * below), int(fixed * below)
    return lambda pieces: -(-(pieces * each_parts + fixed_parts) // (below * step)) * step


def pieces_from_warp(plan: Plan, warp_um: int | Fraction, beam: int = 1) -> int:
    """How many whole pieces of the plan a warp of that length gives: the warp length turned round."""
    take_up = 1 + plan.take_up_of(beam)
    fixed = plan.waste_um + plan.header_um + plan.fringe_excess_um + plan.sample_um * take_up
    each = woven_um(plan) * take_up + plan.between_um
    return max(0, floor((warp_um - fixed + plan.between_um) / each))
