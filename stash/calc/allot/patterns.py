"""How few cones of one length can give so many whole ends of several lengths: the cutting stock problem.

Solved as a flow: a cone is a path from nothing cut to all that is cut of it, an arc a length that is cut. J. M. Valério
de Carvalho, Exact solution of bin-packing problems using column generation and branch-and-bound, Annals of Operations
Research 86 (1999), 629-659 (from memory). Its relaxation is as tight as that over all ways to cut a cone, where the
stages' own program, cone by cone, only sees that the lengths together are not longer than the cones.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from stash.calc.allot.program import Program

MOST_ARCS = 4000
"""Beyond that the flow is no quick look any more: cones that give hundreds of ends each have no need of it."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """So many cones of which these lengths are cut."""

    lengths: tuple[int, ...]
    times: int


@dataclass(frozen=True, slots=True)
class Cut:
    least: int
    """Proven that fewer cones will not do."""
    patterns: tuple[Pattern, ...]
    """A way that does; none where only the least was asked for, or none was found in time."""

    @property
    def cones(self) -> int:
        return sum(pattern.times for pattern in self.patterns)


def fewest_cones(
    stock: int,
    wanted: Sequence[tuple[int, int]],
    *,
    seconds: float,
    over: Callable[[], bool] = lambda: False,
    least_only: bool = False,
) -> Cut | None:
    """`wanted` are pairs of a length and how many of it, in whole units, none longer than `stock`.

    None where there are too many ways to cut, or time was over before anything was known. Raises NoSolver.
    """
    lengths = sorted({length for length, number in wanted if number}, reverse=True)
    numbers = {length: sum(number for one, number in wanted if one == length) for length in lengths}
    arcs = _arcs(stock, lengths, numbers)
    if arcs is None:
        return None
    program = Program()
    most = sum(numbers.values())
    flow = {arc: program.variable(most, whole=not least_only) for arc in arcs}
    cones = program.variable(most, whole=not least_only)
    ends: dict[int, dict[int, float]] = {0: {cones: 1}}
    for (start, length), variable in flow.items():
        ends.setdefault(start, {})[variable] = -1
        ends.setdefault(start + length, {})[variable] = 1
    for balance in ends.values():
        # What comes to a node and does not go on is left on the cone.
        program.between(0, balance, most)
    for length in lengths:
        program.between(
            numbers[length], {variable: 1 for (_, of), variable in flow.items() if of == length}, most
        )
    answer = program.solve({cones: 1}, seconds=seconds, over=over, whole_costs=not least_only)
    if answer.state in ("open", "none"):
        return None
    least = answer.at_least
    return Cut(
        least, () if least_only else _patterns({arc: round(answer.values[at]) for arc, at in flow.items()})
    )


def _arcs(stock: int, lengths: Sequence[int], numbers: dict[int, int]) -> list[tuple[int, int]] | None:
    """What is cut already, and the length that is cut next: the longest first, so that an order is not told twice."""
    arcs: dict[tuple[int, int], None] = {}
    starts = {0}
    for length in lengths:
        new = set()
        for start in starts:
            at = start
            for _ in range(numbers[length]):
                if at + length > stock:
                    break
                arcs[at, length] = None
                at += length
                new.add(at)
            if len(arcs) > MOST_ARCS:
                return None
        starts |= new
    return list(arcs)


def _patterns(flow: dict[tuple[int, int], int]) -> tuple[Pattern, ...]:
    """The paths of a flow, each as often as it is gone."""
    left = {arc: times for arc, times in flow.items() if times}
    found = []
    while any(start == 0 for start, _ in left):
        path = []
        at = 0
        while arc := next((arc for arc in left if arc[0] == at), None):
            path.append(arc)
            at += arc[1]
        times = min(left[arc] for arc in path)
        for arc in path:
            left[arc] -= times
            if not left[arc]:
                del left[arc]
        found.append(Pattern(tuple(length for _, length in path), times))
    return tuple(found)
