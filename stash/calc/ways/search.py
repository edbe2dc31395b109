"""Searches that ways share."""

from __future__ import annotations

from collections.abc import Callable


def greatest(holds: Callable[[int], bool], most: int) -> int:
    """The greatest number from 1 to `most` for which `holds` is true, by halves, given that it stays false once
    false; 0 if there is none. The answer holds in any case."""
    low, high = 0, most + 1
    while high - low > 1:
        middle = (low + high) // 2
        if holds(middle):
            low = middle
        else:
            high = middle
    return low


def least(holds: Callable[[int], bool], most: int) -> int | None:
    """The least number from 1 to `most` for which `holds` is true, given that it stays true once true; None if
    there is none. Small numbers are asked first. The answer holds in any case."""
    high = 1
    while not holds(high):
        if high >= most:
            return None
        high = min(high * 2, most)
    low = high // 2
    while high - low > 1:
        middle = (low + high) // 2
        if holds(middle):
            high = middle
        else:
            low = middle
    return high
