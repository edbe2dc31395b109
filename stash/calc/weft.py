"""Weft: picks, the length of a pick, and the tails where a shuttle begins."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from stash.calc.colour_order import Order
from stash.calc.errors import CalcError
from stash.calc.plan import Plan
from stash.calc.sections import PickStretch, Section, sections_of, work_woven

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
    sections: tuple[Section, ...]
    """Of one piece, in the order in which they are woven: hem, body, hem, or the body alone."""


def work_weft(plan: Plan, in_reed_um: Fraction, pattern_ends: int) -> Weft:
    """Weft of one piece and of the sample; `pattern_ends` are those that accents are counted in.

    Pieces are all alike, since the pick order begins anew with each. Raises CalcError naming the field
    to change beyond a million picks a piece.
    """
    woven = work_woven(plan)
    picks = sum(woven.hem_picks) + woven.body_picks
    _refuse_too_many(picks, "along_um")
    sample_picks = ceil(plan.picks.number_in(plan.sample_um))
    _refuse_too_many(sample_picks, "sample_um")
    total = plan.pieces * picks + sample_picks
    if total > MOST_PICKS:
        raise CalcError(
            f"The warp comes to {total:,} picks; up to {MOST_PICKS:,} can be planned: give fewer pieces.",
            field="pieces",
        )
    sections = sections_of(plan, woven, pattern_ends)
    stretches = [stretch for section in sections for stretch in section.stretches]
    piece = weave_stretches(stretches, plan.carry_picks)
    return Weft(
        picks_per_piece=picks,
        sample_picks=sample_picks,
        total_picks=total,
        pick_um=in_reed_um * (1 + plan.weft_take_up),
        changes_per_piece=sum(piece.tails.values()),
        piece=piece,
        sample=weave(plan.pick_order, sample_picks, plan.carry_picks),
        sections=sections,
    )


def weave(order: Order, picks: int, carry_picks: int) -> Weave:
    """So many picks by `order`, begun again whenever it runs out."""
    return weave_stretches((PickStretch(order, picks),), carry_picks)


def weave_stretches(stretches: Iterable[PickStretch], carry_picks: int) -> Weave:
    """One stretch after the other, woven without cutting off.

    A tail belongs to the shade that begins. A shuttle that has rested for `carry_picks` picks or fewer is
    carried along the selvedge and goes on without one (common practice): pick and pick has no tail a pick.
    Goes once through an order, once more to see what every further repeat adds, and once through the rest.
    """
    counts: dict[str, int] = {}
    tails: dict[str, int] = {}
    laid_until: dict[str, int] = {}
    for stretch in stretches:
        for key, number in stretch.counts.items():
            counts[key] = counts.get(key, 0) + number
        for order, picks, times in stretch.passes():
            runs = list(order.runs())
            for again in (1, times - 1) if times > 1 else (1,):
                for key, number in _begun(runs, picks, laid_until, carry_picks).items():
                    tails[key] = tails.get(key, 0) + again * number
            # Repeats beyond the second were only counted: to a shuttle that is not in them they are a rest.
            for key in laid_until.keys() - {key for _, key in runs} if times > 2 else ():
                laid_until[key] -= (times - 2) * picks
    return Weave(counts, tails)


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
