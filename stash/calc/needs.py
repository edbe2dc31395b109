"""Needs: the plan worked out, down to what it asks of every shade."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from stash.calc.colour_order import Order, key_order
from stash.calc.layout import Layout, lay_out
from stash.calc.lot_wish import ShadeWish, Wish
from stash.calc.packing import Need
from stash.calc.plan import Plan
from stash.calc.warp import Length, work_length
from stash.calc.weft import Weave, Weft, work_weft
from stash.calc.width import Width, work_width

ACCENT_ENDS = 20
"""A shade of so many ends or fewer is an accent: one lost end is a large share of it."""


@dataclass(frozen=True, slots=True)
class ShadeNeed:
    """What one shade needs, in whole ends, picks and um: bare, and with the buffer, which is applied once.

    Of all the plan's like warps together, except where a single piece is named.
    """

    key: str
    ends: int
    ends_buffered: int
    warp_um: int
    """Length of one end, which is that of its beam."""
    pieces: int
    picks: int
    """In all pieces and samples."""
    tails: int
    """In all pieces and samples."""
    weft_piece_um: int
    weft_piece_buffered_um: int
    weft_sample_um: int
    weft_sample_buffered_um: int
    beam: int = 1
    wish: Wish = "any"
    wish_lot_id: int | None = None
    wish_cone_id: int | None = None

    @property
    def weft_um(self) -> int:
        return self.pieces * self.weft_piece_um + self.weft_sample_um

    @property
    def weft_buffered_um(self) -> int:
        return self.pieces * self.weft_piece_buffered_um + self.weft_sample_buffered_um

    @property
    def warp_total_um(self) -> int:
        return self.ends * self.warp_um

    @property
    def warp_total_buffered_um(self) -> int:
        return self.ends_buffered * self.warp_um

    @property
    def total_um(self) -> int:
        return self.warp_total_um + self.weft_um

    @property
    def buffered_total_um(self) -> int:
        return self.warp_total_buffered_um + self.weft_buffered_um

    @property
    def need(self) -> Need:
        """The same need as packing takes it."""
        return Need(
            key=self.key,
            ends=self.ends,
            ends_buffered=self.ends_buffered,
            weft_piece_um=self.weft_piece_um,
            weft_piece_buffered_um=self.weft_piece_buffered_um,
            weft_sample_um=self.weft_sample_um,
            weft_sample_buffered_um=self.weft_sample_buffered_um,
            wish=self.wish,
            wish_lot_id=self.wish_lot_id,
            wish_cone_id=self.wish_cone_id,
        )


@dataclass(frozen=True, slots=True)
class WorkedPlan:
    """One of the plan's like warps worked out; `needs` alone are of all of them."""

    plan: Plan
    width: Width
    ends_by_key: Mapping[str, int]
    """Of one warp."""
    warp_order: Order
    """The whole warp from the left: borders, repeats and balance, accents, doubled and floating ends."""
    layout: Layout
    """What each end of `warp_order` is: its part, its heddle and its place in the reed."""
    length: Length
    """Of beam 1."""
    lengths: Mapping[int, Length]
    """By beam; a plan without further beams has beam 1 alone."""
    weft: Weft
    needs: tuple[ShadeNeed, ...]
    """One for every shade in either order, in the order of the keys."""

    @property
    def warps_um(self) -> dict[int, int]:
        """What is wound, by beam."""
        return {beam: length.warp_um for beam, length in self.lengths.items()}

    def length_of(self, key: str) -> Length:
        """The warp length of the beam on which a shade is wound."""
        return self.lengths[self.plan.beam_of(key)]


def work_out(plan: Plan) -> WorkedPlan:
    """Everything that follows from the plan; raises CalcError naming the field to change."""
    width = work_width(plan)
    lengths = {beam: work_length(plan, beam) for beam in (1, *sorted(one.number for one in plan.beams))}
    length = lengths[1]
    weft = work_weft(plan, width.in_reed_um, width.pattern_ends)
    warp_order, layout = lay_out(plan, width.repeats)
    ends = warp_order.by_key
    keys = sorted({*ends, *weft.piece.picks, *plan.pick_order.by_key}, key=key_order)
    return WorkedPlan(
        plan=plan,
        width=width,
        ends_by_key={key: ends[key] for key in keys if key in ends},
        warp_order=warp_order,
        layout=layout,
        length=length,
        lengths=lengths,
        weft=weft,
        needs=tuple(_shade_need(key, plan, ends.get(key, 0), lengths, weft) for key in keys),
    )


def with_wishes(worked: WorkedPlan, wishes: tuple[ShadeWish, ...]) -> WorkedPlan:
    """The same plan with other wishes for lots: they change nothing but which cones may serve."""
    if wishes == worked.plan.wishes:
        return worked
    plan = replace(worked.plan, wishes=wishes)
    by_key = {one.key: one for one in wishes}
    needs = []
    for need in worked.needs:
        one = by_key.get(need.key)
        needs.append(
            replace(
                need,
                wish=one.wish if one else "any",
                wish_lot_id=one.lot_id if one else None,
                wish_cone_id=one.cone_id if one else None,
            )
        )
    return replace(worked, plan=plan, needs=tuple(needs))


def buffered_ends(ends: int, buffer: Fraction) -> int:
    """Ends with the buffer, at least one to spare for an accent; no ends stay none."""
    spare = ceil(ends * buffer)
    return ends + (max(1, spare) if 0 < ends <= ACCENT_ENDS else spare)


def _shade_need(key: str, plan: Plan, ends: int, lengths: Mapping[int, Length], weft: Weft) -> ShadeNeed:
    beam, warps = plan.beam_of(key), plan.warps
    piece = _weft_um(key, weft.piece, weft.pick_um, plan.tail_um)
    sample = _weft_um(key, weft.sample, weft.pick_um, plan.tail_um)
    with_buffer = 1 + plan.weft_buffer
    wish = plan.wish_of(key)
    return ShadeNeed(
        key=key,
        ends=warps * ends,
        ends_buffered=warps * buffered_ends(ends, plan.warp_buffer),
        warp_um=lengths[beam].warp_um,
        pieces=warps * plan.pieces,
        picks=warps * (plan.pieces * weft.piece.picks.get(key, 0) + weft.sample.picks.get(key, 0)),
        tails=warps * (plan.pieces * weft.piece.tails.get(key, 0) + weft.sample.tails.get(key, 0)),
        weft_piece_um=ceil(piece),
        weft_piece_buffered_um=ceil(piece * with_buffer),
        weft_sample_um=warps * ceil(sample),
        weft_sample_buffered_um=warps * ceil(sample * with_buffer),
        beam=beam,
        wish=wish.wish if wish else "any",
        wish_lot_id=wish.lot_id if wish else None,
        wish_cone_id=wish.cone_id if wish else None,
    )


def _weft_um(key: str, weave: Weave, pick_um: Fraction, tail_um: int) -> Fraction:
    return weave.picks.get(key, 0) * pick_um + weave.tails.get(key, 0) * tail_um
