"""Serving passes from packages: which package gives which end, and what is wound over before the start.

In one pass every thread comes from a package of its own. So many threads from so many packages can be had if,
for every number n of passes, those n that need most do not need more than the packages give when each serves
a pass once at most: the sum of min(ends on it, n). (The condition for a matching in a two-sided graph, from
memory of H. J. Ryser, 1957, and D. Gale, 1957.) Where the packages are too uneven, or too few, whole warp
lengths are wound over from the largest until it holds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stash.calc.errors import CalcError
from stash.calc.passes import Pass


@dataclass(frozen=True, slots=True, order=True)
class Package:
    """A cone by its id, or (`spool` 1, 2, ...) a spool that is wound from that cone before the start."""

    cone_id: int
    spool: int = 0


@dataclass(frozen=True, slots=True)
class Holds:
    """So many whole ends of shade `key` that a cone may give."""

    cone_id: int
    key: str
    ends: int

    def __post_init__(self) -> None:
        if self.ends < 0:
            raise CalcError("A cone gives no less than no ends.", field="ends")


@dataclass(frozen=True, slots=True)
class Over:
    """Wind so many whole warp lengths over from one package on to another before the start."""

    key: str
    giver: Package
    taker: Package
    ends: int


@dataclass(frozen=True, slots=True)
class Thread:
    """One thread of a pass; `package` None is yarn that is still missing."""

    key: str
    package: Package | None


@dataclass(frozen=True, slots=True)
class Serving:
    passes: tuple[tuple[Thread, ...], ...]
    """For each pass its threads from the left."""
    overs: tuple[Over, ...]
    missing: Mapping[str, int]
    """Ends of each shade for which there is no package; shades that lack nothing are left out."""
    ends: Mapping[Package, int]
    """Ends that each package gives to the warp."""

    def drawn(self, cone_id: int) -> int:
        """Whole warp lengths that leave a cone for good, less what is wound on to it: below 0 if it gains."""
        own = Package(cone_id)
        given = sum(over.ends for over in self.overs if over.giver == own)
        taken = sum(over.ends for over in self.overs if over.taker == own)
        return self.ends.get(own, 0) + given - taken


def serve(passes: Sequence[Pass], holds: Sequence[Holds]) -> Serving:
    """Give every thread its package: a package stays in hand as long as the rest can be served from the others.

    Packages of a shade are taken in the order of `holds`, so that a lot is used up before the next begins.
    Where they hold too few ends, the first passes are served and the ends for which there is none come last.
    """
    threads: list[list[Thread]] = [[Thread(key, None) for key in one.keys] for one in passes]
    overs: list[Over] = []
    missing: dict[str, int] = {}
    given: Counter[Package] = Counter()
    for key in dict.fromkeys(key for one in passes for key in one.keys):
        shelf = _Shelf(key, [hold for hold in holds if hold.key == key and hold.ends])
        there = sum(shelf.left)
        wanted: dict[int, int] = {}
        for at, one in enumerate(passes):
            if number := one.keys.count(key):
                wanted[at] = min(number, there)
                there -= wanted[at]
                if number > wanted[at]:
                    missing[key] = missing.get(key, 0) + number - wanted[at]
        shelf.prepare([number for number in wanted.values() if number])
        overs += shelf.overs
        for at, number in wanted.items():
            chosen = shelf.take(number)
            given.update(chosen)
            free = [place for place, thread in enumerate(threads[at]) if thread.key == key]
            for place, package in zip(free, chosen, strict=False):
                threads[at][place] = Thread(key, package)
    return Serving(tuple(tuple(one) for one in threads), tuple(_gathered(overs)), missing, dict(given))


def _gathered(overs: Sequence[Over]) -> list[Over]:
    """What goes the same way twice is wound over once; not past a package that gives on what it was given."""
    passed_on = {over.giver for over in overs} & {over.taker for over in overs}
    found: dict[tuple[Package, Package, int], Over] = {}
    for at, over in enumerate(overs):
        apart = at if {over.giver, over.taker} & passed_on else -1
        way = (over.giver, over.taker, apart)
        before = found[way].ends if way in found else 0
        found[way] = Over(over.key, over.giver, over.taker, before + over.ends)
    return list(found.values())


class _Shelf:
    """The packages of one shade while its passes are served; `ahead[v]` passes still need v or more."""

    def __init__(self, key: str, holds: Sequence[Holds]) -> None:
        self.key = key
        self.packages = [Package(hold.cone_id) for hold in holds]
        self.left = [hold.ends for hold in holds]
        self.overs: list[Over] = []
        self.in_hand: list[int] = []
        self.ahead: list[int] = [0]

    def prepare(self, wanted: Sequence[int]) -> None:
        """Wind over until the passes can be served; they need no more ends in all than the packages hold."""
        most = max(wanted, default=0)
        self.ahead = [sum(number >= level for number in wanted) for level in range(most + 1)]
        spools = Counter[int]()
        while len(self.packages) < most:
            cone_id = self.packages[max(range(len(self.left)), key=self.left.__getitem__)].cone_id
            spools[cone_id] += 1
            self.packages.append(Package(cone_id, spools[cone_id]))
            self.left.append(0)
        for level in range(most, 0, -1):
            self._level(self.ahead[level], self._needed(level))

    def take(self, number: int) -> list[Package]:
        """The packages for a pass, in the order of the list."""
        if not number:
            return []
        for level in range(1, number + 1):
            self.ahead[level] -= 1
        chosen = self._stay(number)
        if number < len(self.packages) and not self._suffices_without(chosen):
            by_size = sorted(
                range(len(self.left)), key=lambda at: (-self.left[at], at not in self.in_hand, at)
            )
            chosen = by_size[:number]
        for at in chosen:
            self.left[at] -= 1
        self.in_hand = [*chosen, *(at for at in self.in_hand if at not in chosen)]
        return [self.packages[at] for at in sorted(chosen)]

    def _stay(self, number: int) -> list[int]:
        """Those in hand first, then the others as they come in the list."""
        others = [at for at in range(len(self.left)) if at not in self.in_hand]
        return [at for at in (*self.in_hand, *others) if self.left[at]][:number]

    def _suffices_without(self, chosen: Sequence[int]) -> bool:
        for at in chosen:
            self.left[at] -= 1
        holds = all(
            sum(min(ends, self.ahead[level]) for ends in self.left) >= self._needed(level)
            for level in range(1, len(self.ahead))
        )
        for at in chosen:
            self.left[at] += 1
        return holds

    def _needed(self, level: int) -> int:
        """Threads in those passes that need `level` or more."""
        return level * self.ahead[level] + sum(self.ahead[level + 1 :])

    def _level(self, passes: int, needed: int) -> None:
        """Move ends from packages that hold more than so many passes take, to those that hold fewer.

        It takes nothing away from what was reached for other numbers of passes: what moves goes from a larger
        package to one that does not become larger than it.
        """
        lacking = needed - sum(min(ends, passes) for ends in self.left)
        while lacking > 0:
            giver = max(range(len(self.left)), key=self.left.__getitem__)
            taker = max(
                (at for at in range(len(self.left)) if self.left[at] < passes),
                key=lambda at: (self.left[at], -at),
            )
            moved = min(lacking, self.left[giver] - passes, passes - self.left[taker])
            self.left[giver] -= moved
            self.left[taker] += moved
            self.overs.append(Over(self.key, self.packages[giver], self.packages[taker], moved))
            lacking -= moved
