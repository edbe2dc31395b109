"""Borders: an order at the left edge, and the same mirrored at the right."""

from __future__ import annotations

from stash.calc.colour_order import Item, Order, Repeat


def mirrored(order: Order) -> Order:
    """The order read from its other end."""
    return Order(_mirrored(order.items))


def without_first(order: Order, number: int) -> Order:
    """What is left of the order once its first so many threads are gone; fewer than all of them."""
    return mirrored(mirrored(order).first(order.length - number)) if number else order


def _mirrored(items: tuple[Item, ...]) -> tuple[Item, ...]:
    return tuple(
        Repeat(item.times, _mirrored(item.items)) if isinstance(item, Repeat) else item
        for item in reversed(items)
    )
