"""Repeats: what comes again and again in a list is written once, with how often."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

Item = TypeVar("Item", bound=Hashable)

LONGEST_REPEAT = 12


@dataclass(frozen=True, slots=True)
class Again(Generic[Item]):
    """`items`, in their order, so many `times`, from place `first` of the list on (counted from 0)."""

    times: int
    items: tuple[Item, ...]
    first: int

    @property
    def length(self) -> int:
        return self.times * len(self.items)


def gather_repeats(
    items: Sequence[Item], longest: int = LONGEST_REPEAT, fewest_times: int = 2
) -> tuple[Again[Item], ...]:
    """The list from its start as stretches that repeat; laid end to end they are the list again.

    At each place the repeat of at most `longest` items that covers most is taken, the shortest of those. A
    repeat of several items that does not come `fewest_times` stays written out.
    """
    found: list[Again[Item]] = []
    at = 0
    while at < len(items):
        best_times, best_size = 1, 1
        for size in range(1, min(longest, len(items) - at) + 1):
            times = _times(items, at, size)
            if times >= fewest_times and times * size > best_times * best_size:
                best_times, best_size = times, size
        found.append(Again(best_times, tuple(items[at : at + best_size]), at))
        at += best_times * best_size
    return tuple(found)


def _times(items: Sequence[Item], at: int, size: int) -> int:
    """How often the `size` items from `at` on stand there one after the other."""
    same = 0
    while at + size + same < len(items) and items[at + same] == items[at + size + same]:
        same += 1
    return 1 + same // size
