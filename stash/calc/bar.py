"""Geometry of the stock bar: amounts of one shade laid along one line, to scale.

Positions are whole thousandths of the bar's length (0 to WIDTH), so that a drawing may be as wide as it
likes and no stroke is distorted. All amounts of one bar are in one unit; which one does not matter.
"""

from __future__ import annotations

from dataclasses import dataclass

from stash.calc.errors import CalcError

WIDTH = 1000
# What is there is seen to be there, however little it is.
LEAST = 4


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of the bar, from `start` to `end`, in thousandths."""

    start: int
    end: int

    @property
    def width(self) -> int:
        return self.end - self.start

    def __bool__(self) -> bool:
        return self.end > self.start


@dataclass(frozen=True, slots=True)
class Bar:
    """What to draw. Empty spans are not drawn; `keep` and `need` are None when there is none to show.

    What the shelf lacks is drawn above the bar: `missing` from the end of the free part to the need, and
    `undercut`, after a weigh-in below the reservations, from what is there to what has been promised.
    `cut` says that something goes on beyond the scale and was clamped.
    """

    free: Span
    reserved: Span
    on_order: Span
    keep: int | None
    need: int | None
    missing: Span
    undercut: Span
    cut: bool


def stock_bar(
    *, free: int, reserved: int = 0, on_order: int = 0, keep: int = 0, need: int | None = None, scale: int
) -> Bar:
    """Lay out one bar; `scale` is the amount that fills it.

    `free` is on hand less reserved and may be negative: then a weigh-in has undercut the reservations by
    so much. A scale of nothing (an empty shelf) draws whatever is there as full. Raises CalcError when
    another amount is negative.
    """
    for field, amount in (("reserved", reserved), ("on_order", on_order), ("keep", keep), ("scale", scale)):
        if amount < 0:
            raise CalcError("A stock bar shows amounts of nothing or more.", field=field)
    if need is not None and need < 0:
        raise CalcError("A need is nothing or more.", field="need")
    there = max(free, 0)
    on_hand = max(free + reserved, 0)
    promised = there + reserved

    free_end = _end(0, there, there, scale)
    reserved_end = _end(free_end, on_hand - there, on_hand, scale)
    order_end = _end(reserved_end, on_order, on_hand + on_order, scale)
    need_at = None if need is None else _place(need, scale)
    missing = Span(0, 0)
    if need is not None and need_at is not None and need > there:
        missing = Span(min(free_end, need_at), need_at)
    undercut = Span(0, 0)
    if promised > on_hand:
        undercut = Span(reserved_end, max(reserved_end, _place(promised, scale)))
    return Bar(
        free=Span(0, free_end),
        reserved=Span(free_end, reserved_end),
        on_order=Span(reserved_end, order_end),
        keep=_place(keep, scale) if keep else None,
        need=need_at,
        missing=missing,
        undercut=undercut,
        cut=max(on_hand + on_order, promised, keep, need or 0) > scale,
    )


def _place(amount: int, scale: int) -> int:
    """Where an amount ends, rounded half up, clamped to the bar."""
    if amount >= scale:
        return WIDTH if amount else 0
    return (2 * amount * WIDTH + scale) // (2 * scale)


def _end(start: int, part: int, total: int, scale: int) -> int:
    """End of a part that begins at `start`: its true place, but never so near that the part is not seen."""
    if not part:
        return start
    return min(WIDTH, max(start + LEAST, _place(total, scale)))
