"""Passes: the end sequence cut into what is wound at once, along the board one way.

Two threads are wound at once from two packages, three and more with a paddle that keeps them in order
(common practice). A pass in which a shade comes more than once is a like pass (of two threads: a like pair):
it needs as many packages of that shade.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stash.calc.errors import CalcError

MOST_AT_ONCE = 24


@dataclass(frozen=True, slots=True)
class Pass:
    """The shades of one pass from the left; `first` counts the ends to its left in the list that was cut."""

    keys: tuple[str, ...]
    first: int

    @property
    def ends(self) -> int:
        return len(self.keys)

    @property
    def is_like(self) -> bool:
        return len(set(self.keys)) < len(self.keys)


@dataclass(frozen=True, slots=True)
class Winding:
    at_once: int
    passes: tuple[Pass, ...]

    @property
    def ends(self) -> int:
        return sum(one.ends for one in self.passes)

    @property
    def full(self) -> int:
        """Passes of `at_once` threads: with two at once, the pairs."""
        return sum(one.ends == self.at_once for one in self.passes)

    @property
    def singles(self) -> int:
        """Passes of one thread where several are wound at once; 0 where all are wound one by one."""
        return sum(one.ends == 1 for one in self.passes) if self.at_once > 1 else 0

    @property
    def like(self) -> int:
        """Passes that need two packages or more of one shade."""
        return sum(one.is_like for one in self.passes)

    @property
    def packages(self) -> Mapping[str, int]:
        """How many packages of each shade are needed at once, in the order in which shades first come."""
        most: dict[str, int] = {}
        for one in self.passes:
            for key in one.keys:
                most[key] = max(most.get(key, 0), one.keys.count(key))
        return most


def wind(
    keys: Sequence[str],
    at_once: int,
    *,
    single_first: bool = False,
    most_of: Mapping[str, int] | None = None,
) -> Winding:
    """Cut the ends, from the left, into passes of `at_once`; the last has what is left.

    `single_first` winds the first end alone, which shifts every later pass by one. `most_of` says of how many
    packages of a shade there are at most: a pass is closed before it would need more, so that with one package
    of each no pass is like.

    Raises CalcError unless there are ends and 1 to 24 threads at once.
    """
    if not 1 <= at_once <= MOST_AT_ONCE:
        raise CalcError(f"Wind from 1 to {MOST_AT_ONCE} threads at once.", field="at_once")
    if not keys:
        raise CalcError("There are no ends to wind.", field="keys")
    limits = most_of or {}
    if any(limit < 1 for limit in limits.values()):
        raise CalcError("A shade is wound from at least one package.", field="most_of")
    passes: list[Pass] = []
    first = 0
    while first < len(keys):
        room = 1 if single_first and not passes else at_once
        last = first + 1
        held = {keys[first]: 1}
        while last < len(keys) and last - first < room:
            key = keys[last]
            if held.get(key, 0) >= limits.get(key, at_once):
                break
            held[key] = held.get(key, 0) + 1
            last += 1
        passes.append(Pass(tuple(keys[first:last]), first))
        first = last
    return Winding(at_once, tuple(passes))


@dataclass(frozen=True, slots=True)
class Starts:
    """The same ends wound from a full pass, and from a single end."""

    full_first: Winding
    single_first: Winding

    @property
    def single_is_better(self) -> bool:
        """Fewer like passes, which is fewer packages and changes; as many: the fewer passes decide."""
        one, other = self.single_first, self.full_first
        return (one.like, len(one.passes)) < (other.like, len(other.passes))


def both_starts(keys: Sequence[str], at_once: int, most_of: Mapping[str, int] | None = None) -> Starts:
    """A single end at the start can turn like pairs into pairs of two shades: both, to be compared."""
    return Starts(
        wind(keys, at_once, most_of=most_of),
        wind(keys, at_once, single_first=True, most_of=most_of),
    )
