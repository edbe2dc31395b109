"""Bouts: the passes parted into chains of 50 to 100 ends, or of 2 to 3 in of width (common practice)."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from stash.calc.density import Density
from stash.calc.errors import CalcError

FEWEST_USUAL, MOST_USUAL = 50, 100
USUAL_WIDTH_UM = 76_200
"""3 in."""
LEAST_ENDS = 2


@dataclass(frozen=True, slots=True)
class Bout:
    """Passes from place `first_pass` on, counted from 0, and the ends in them."""

    first_pass: int
    passes: int
    ends: int

    @property
    def ends_at_far_peg(self) -> bool:
        """A pass goes along the board one way: after an odd number the thread is at the far peg."""
        return self.passes % 2 == 1


def usual_bout(sett: Density, most_ends: int | None = None) -> int:
    """Ends of a bout unless said: 3 in of them, but from 50 to 100, and at most what the board holds."""
    ends = min(MOST_USUAL, max(FEWEST_USUAL, int(sett.number_in(USUAL_WIDTH_UM))))
    return max(LEAST_ENDS, ends if most_ends is None else min(ends, most_ends))


def part_into_bouts(
    passes: Sequence[tuple[int, Hashable]], most: int, *, repeat: int = 0, before: int = 0
) -> tuple[Bout, ...]:
    """Passes given as (ends, what is wound in it), parted into bouts of at most `most` ends.

    Where `repeat` ends of the pattern come again and again after the first `before`, each bout holds as many whole
    repeats as fit, so that bouts are wound alike; what is left goes to the last if that holds it. Where no pass
    ends with a repeat, or none fits, the bouts are as even as can be: a bout ends where the winding changes if
    such a place lies within an eighth of a bout from the even cut, else in the middle of a line.
    Raises CalcError if a bout would not hold a pass.
    """
    largest = max((ends for ends, _ in passes), default=0)
    if most < max(LEAST_ENDS, largest):
        raise CalcError(
            f"A bout holds at least one pass: give {max(LEAST_ENDS, largest)} ends or more.", field="bout"
        )
    reached = [0]
    for ends, _ in passes:
        reached.append(reached[-1] + ends)
    cuts = _at_repeats(reached, most, repeat, before) if repeat else None
    number = -(-reached[-1] // most)
    while cuts is None:
        cuts = _cuts(passes, reached, most, number)
        number += 1
    return tuple(
        Bout(start, stop - start, reached[stop] - reached[start])
        for start, stop in zip([0, *cuts], [*cuts, len(passes)], strict=True)
    )


def _at_repeats(reached: Sequence[int], most: int, repeat: int, before: int) -> list[int] | None:
    """Cuts after whole repeats; None where a bout would be too large, or so small that it is a nuisance."""
    step = most // repeat * repeat
    if 2 * step < most or before + step > most:
        return None
    place = {ends: at for at, ends in enumerate(reached)}
    ends = reached[-1]
    wanted = list(range(before + step, ends, step))
    if wanted and ends - (wanted[-2] if len(wanted) > 1 else 0) <= most:
        wanted.pop()
    if any(cut not in place for cut in wanted):
        return None
    return [place[cut] for cut in wanted]


def _cuts(
    passes: Sequence[tuple[int, Hashable]], reached: Sequence[int], most: int, number: int
) -> list[int] | None:
    """The places before which a bout begins, the first left out; None if so few bouts do not do."""
    ends = reached[-1]
    cuts: list[int] = []
    start = 0
    near = max(1, ends // (8 * number)) if number else 0
    for done in range(1, number):
        even = ends * done // number
        possible = [
            at
            for at in range(start + 1, len(passes))
            if reached[at] - reached[start] <= most and ends - reached[at] <= (number - done) * most
        ]
        if not possible:
            return None
        changes = [at for at in possible if passes[at] != passes[at - 1] and abs(reached[at] - even) <= near]
        start = min(changes or possible, key=lambda at: (abs(reached[at] - even), at))
        cuts.append(start)
    return cuts if ends - reached[start] <= most else None
