"""Packages fed at once: how many ends lack a package of their own."""

from __future__ import annotations

from collections.abc import Sequence

from stash.calc.allot.asked import Asked
from stash.calc.packing import Line


def wound_over(one: Asked, lines: Sequence[Line]) -> int:
    """Ends for which a package has to be wound over if `at_once` are wound together as often as it takes.

    A cone gives one end a pass at most. So many passes there are as `at_once` goes into the ends, rounded up; what a
    cone gives beyond them has to be on another package.
    """
    ends = [line.ends for line in lines if line.use == "warp"]
    passes = -(-sum(ends) // one.at_once)
    return sum(max(0, of_cone - passes) for of_cone in ends)
