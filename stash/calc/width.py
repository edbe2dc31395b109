"""Width: from the finished width asked for to whole ends, and back to the width that results."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from stash.calc.colour_order import MOST_THREADS
from stash.calc.errors import CalcError
from stash.calc.losses import after_losses, before_losses
from stash.calc.plan import Plan

WIDEST_IN_REED_UM = 100_000_000


@dataclass(frozen=True, slots=True)
class LowerWidth:
    """The choice one repeat below: its ends, and the finished width in um that it gives."""

    ends: int
    finished_um: Fraction


@dataclass(frozen=True, slots=True)
class Width:
    """Widths in um, exact; `repeats` and `lower` are None where there is no such choice."""

    on_loom_um: Fraction
    """What the asked width needs on the loom."""
    target_ends: Fraction
    """What that width would hold at the sett, before repeats."""
    ends: int
    """All ends, floating and doubled ones with them."""
    repeats: int | None
    in_reed_um: Fraction
    """Width in the reed of the places that the ends take; once sleyed, of the dents used."""
    finished_um: Fraction
    """Finished width that the whole ends give."""
    lower: LowerWidth | None
    places: int
    """Places in the reed: all ends but those that share a dent with the end beside them."""
    pattern_ends: int
    """Borders, repeats and balance: what accents are counted in; no accent, floating or doubled end."""


def work_width(plan: Plan) -> Width:
    """Repeats are rounded up, so that the piece is never narrower than asked.

    Raises CalcError naming the field to change beyond 20,000 ends or 100 m in the reed.
    """
    on_loom = before_losses(plan.across_um, plan.losses_across)
    target = plan.sett_to_fill.number_in(on_loom)
    borders = 2 * plan.border.length if plan.border else 0
    repeats: int | None = None
    pattern = plan.order.length
    if plan.order_fills:
        repeats = max(1, ceil((target - plan.balance_ends - borders) / plan.order.length))
        pattern = repeats * plan.order.length + plan.balance_ends + borders
    added = sum(accent.number for accent in plan.accents) if plan.accent_way == "added" else 0
    ends = pattern + added + plan.selvedges.extra_ends
    places = pattern + added + plan.selvedges.extra_places
    fewer = plan.order.length if repeats is not None and repeats > 1 else 0
    if ends > MOST_THREADS:
        raise CalcError(
            f"This width comes to {ends:,} ends; up to {MOST_THREADS:,} can be planned: give a narrower "
            "piece or fewer ends to the length.",
            field="across_um",
        )
    in_reed = plan.width_um(places)
    if in_reed > WIDEST_IN_REED_UM:
        raise CalcError(
            "At this sett the ends stand wider than 100 m in the reed: give more ends to the length.",
            field="sett",
        )
    return Width(
        on_loom_um=on_loom,
        target_ends=target,
        ends=ends,
        repeats=repeats,
        in_reed_um=in_reed,
        finished_um=after_losses(in_reed, plan.losses_across),
        lower=LowerWidth(ends - fewer, after_losses(plan.width_um(places - fewer), plan.losses_across))
        if fewer
        else None,
        places=places,
        pattern_ends=pattern,
    )
