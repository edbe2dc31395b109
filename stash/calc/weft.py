"""Weft: picks, the length of a pick, and the tails where a shuttle begins."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from stash.calc.colour_order import Order
from stash.calc.errors import CalcError
from stash.calc.plan import Plan

MOST_PICKS_PER_PIECE = 1_000_000
MOST_PICKS = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Weave:
    """So many picks of each shade, and the tails where its shuttle begins, in one woven stretch."""

    picks: dict[str, int]
    tails: dict[str, int]


@dataclass(frozen=True, slots=True)
class Weft:
    picks_per_piece: int
    sample_picks: int
    total_picks: int
    pick_um: Fraction
    """Weft in one pick: width in the reed with the weft take-up."""
    changes_per_piece: int
    """How often in a piece a shuttle begins with a tail, its first pick included."""
    piece: Weave
    sample: Weave


def work_weft(plan: Plan, woven_um: Fraction, in_reed_um: Fraction) -> Weft:
    """Weft of one piece and of the sample; `woven_um` is the woven length of one piece.

    Pieces are all alike, since the pick order begins anew with each. Raises CalcError naming the field
    to change beyond a million picks a piece.
    """
    picks = ceil(plan.picks.number_in(woven_um))
    _refuse_too_many(picks, "along_um")
    sample_picks = ceil(plan.picks.number_in(plan.sample_um))
    _refuse_too_many(sample_picks, "sample_um")
    total = plan.pieces * picks + sample_picks
    if total > MOST_PICKS:
        raise CalcError(
            f"The warp comes to {total:,} picks; up to {MOST_PICKS:,} can be planned: give fewer pieces.",
            field="pieces",
        )
    piece = weave(plan.pick_order, picks, plan.carry_picks)
    return Weft(
        picks_per_piece=picks,
        sample_picks=sample_picks,
        total_picks=total,
        pick_um=in_reed_um * (1 + plan.weft_take_up),
        changes_per_piece=sum(piece.tails.values()),
        piece=piece,
        sample=weave(plan.pick_order, sample_picks, plan.carry_picks),
    )


def weave(order: Order, picks: int, carry_picks: int) -> Weave:
    """So many picks by `order`, begun again whenever it runs out.

    A tail belongs to the shade that begins. A shuttle that has rested for `carry_picks` picks or fewer is
    carried along the selvedge and goes on without one (common practice): pick and pick has no tail a pick.
    Goes once through the order, once more to see what every further repeat adds, and once through the rest.
    """
    whole, rest = divmod(picks, order.length)
    runs = list(order.runs())
    tails: dict[str, int] = {}
    laid_until: dict[str, int] = {}
    for passes in (1, whole - 1) if whole else ():
        if passes:
            for key, number in _begun(runs, order.length, laid_until, carry_picks).items():
                tails[key] = tails.get(key, 0) + passes * number
    for key, number in _begun(runs, rest, laid_until, carry_picks).items():
        tails[key] = tails.get(key, 0) + number
    return Weave(order.counts_over(picks), tails)


def _begun(
    runs: list[tuple[int, str]], picks: int, laid_until: dict[str, int], carry_picks: int
) -> dict[str, int]:
    """Tails in the first `picks` picks of a pass; leaves `laid_until` counted from the start of the next."""
    begun: dict[str, int] = {}
    at = 0
    for number, key in runs:
        if at >= picks:
            break
        if key not in laid_until or at - laid_until[key] > carry_picks:
            begun[key] = begun.get(key, 0) + 1
        at = min(at + number, picks)
        laid_until[key] = at
    for key in laid_until:
        laid_until[key] -= picks
    return begun


def _refuse_too_many(picks: int, field: str) -> None:
    if picks > MOST_PICKS_PER_PIECE:
        raise CalcError(
            f"This length comes to {picks:,} picks; up to {MOST_PICKS_PER_PIECE:,} can be planned: give a "
            "shorter length or fewer picks to it.",
            field=field,
        )
