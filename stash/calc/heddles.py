"""Heddles: how many every shaft needs, what is missing on it, and how to come by them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from stash.calc.draft import Draft, Interlacing

USUAL_FOR_TWO = 4
"""A structure that two shafts weave is threaded over four where the loom has them (common practice)."""


def repeat_on(weave: Interlacing, shafts: int) -> tuple[int, ...]:
    """The threading's repeat on a loom of so many shafts, each counted from 1.

    A typed draft stays as it was typed. Of the others, what two shafts weave is spread straight over four where
    the loom has four, so that heddles stand half as close: plain weave becomes 1, 2, 3, 4.
    """
    repeat = tuple(weave.threading)
    if isinstance(weave, Draft) or max(repeat) != 2 or shafts < USUAL_FOR_TWO:
        return repeat
    spread = []
    met = {1: 0, 2: 0}
    for shaft in repeat * (1 if len(repeat) >= USUAL_FOR_TWO else USUAL_FOR_TWO // len(repeat)):
        spread.append(shaft + 2 * (met[shaft] % 2))
        met[shaft] += 1
    return tuple(spread)


def heddles_needed(repeat: Sequence[int], ends: int) -> dict[int, int]:
    """Heddles on each shaft for so many ends that stand in a heddle of their own, the repeat begun anew as it ends.

    Ends doubled in the heddle share one and floating selvedges have none: neither is counted in `ends`.
    """
    counts = dict.fromkeys(range(1, max(repeat) + 1), 0)
    whole, rest = divmod(ends, len(repeat))
    for place, shaft in enumerate(repeat):
        counts[shaft] += whole + (place < rest)
    return counts


@dataclass(frozen=True, slots=True)
class Move:
    """So many heddles from one shaft to another."""

    heddles: int
    from_shaft: int
    to_shaft: int


@dataclass(frozen=True, slots=True)
class Heddles:
    """The heddles needed against those owned, by shaft, and how to come by what is missing."""

    needed: Mapping[int, int]
    owned: Mapping[int, int]
    missing: Mapping[int, int]
    """Only shafts that lack any."""
    moves: tuple[Move, ...]
    to_tie: int
    """Repair heddles to tie where moving is not enough."""
    uneven: Mapping[int, int]
    """For what two shafts weave: the ends on each shaft that the heddles there allow. Empty where it needs no such
    way or where there is none."""

    @property
    def enough(self) -> bool:
        return not self.missing


def check_heddles(repeat: Sequence[int], ends: int, owned: Mapping[int, int]) -> Heddles:
    """Ways to spread in the order weavers try them (common practice): move, thread unevenly, tie repair heddles."""
    needed = heddles_needed(repeat, ends)
    missing = {
        shaft: number - owned.get(shaft, 0)
        for shaft, number in needed.items()
        if number > owned.get(shaft, 0)
    }
    if not missing:
        return Heddles(needed, owned, {}, (), 0, {})
    moves = _moves(needed, owned, missing)
    to_tie = sum(missing.values()) - sum(move.heddles for move in moves)
    uneven = _uneven(needed, owned) if tuple(repeat) == (1, 2, 3, 4) else {}
    return Heddles(needed, owned, missing, moves, to_tie, uneven)


def _moves(
    needed: Mapping[int, int], owned: Mapping[int, int], missing: Mapping[int, int]
) -> tuple[Move, ...]:
    """Fewest shafts are touched: the shaft with most to spare gives first."""
    spare = {shaft: owned[shaft] - needed.get(shaft, 0) for shaft in owned}
    moves = []
    for to_shaft, lacking in missing.items():
        for from_shaft in sorted(spare, key=lambda shaft: (-spare[shaft], shaft)):
            number = min(lacking, spare[from_shaft])
            if number > 0:
                moves.append(Move(number, from_shaft, to_shaft))
                spare[from_shaft] -= number
                lacking -= number
    return tuple(moves)


def _uneven(needed: Mapping[int, int], owned: Mapping[int, int]) -> dict[int, int]:
    """Plain weave on four shafts lifts 1 with 3 and 2 with 4: either of a pair may carry more of its ends."""
    found: dict[int, int] = {}
    for one, other in ((1, 3), (2, 4)):
        ends = needed[one] + needed[other]
        if ends > owned.get(one, 0) + owned.get(other, 0):
            return {}
        on_one = min(owned.get(one, 0), max(ends - owned.get(other, 0), ceil(ends / 2)))
        found |= {one: on_one, other: ends - on_one}
    return dict(sorted(found.items()))
