"""Woven structures: which thread lies on top where an end and a pick cross, over one repeat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import gcd
from types import MappingProxyType

from stash.calc.errors import CalcError


@dataclass(frozen=True, slots=True)
class Structure:
    """One repeat of a structure, seen from its face.

    `name` is the trade's, `written` the figure it is written with: ends up / ends down along a pick.
    `rows[pick][end]` is True where the warp lies on top; pick 0 is the first one woven, end 0 the left one.
    Raises CalcError unless the rows are even and every end and every pick is bound: a thread that always lies
    on one side would not be woven in.
    """

    name: str
    written: str
    rows: tuple[tuple[bool, ...], ...]

    def __post_init__(self) -> None:
        if not self.rows or not self.rows[0]:
            raise CalcError("A structure needs one pick and one end at least.", field="rows")
        if any(len(row) != self.ends for row in self.rows):
            raise CalcError("Every pick of a structure crosses the same number of ends.", field="rows")
        if any(len(set(thread)) == 1 for thread in (*self.rows, *self.columns)):
            raise CalcError(
                "A thread of this structure is never bound: it lies on one side only.", field="rows"
            )

    @property
    def ends(self) -> int:
        """Ends in the repeat."""
        return len(self.rows[0])

    @property
    def picks(self) -> int:
        """Picks in the repeat."""
        return len(self.rows)

    @property
    def columns(self) -> tuple[tuple[bool, ...], ...]:
        """The same crossings end by end."""
        return tuple(zip(*self.rows, strict=True))

    @property
    def shafts(self) -> int:
        """Least number of shafts: ends that move alike can share one."""
        return len(set(self.columns))

    @property
    def threading(self) -> tuple[int, ...]:
        """The shaft of every end of the repeat from the left, on the fewest shafts, counted from 1 as they come."""
        shafts: dict[tuple[bool, ...], int] = {}
        return tuple(shafts.setdefault(column, len(shafts) + 1) for column in self.columns)

    @property
    def lifts(self) -> tuple[frozenset[int], ...]:
        """The shafts lifted on every pick of the repeat, by that threading."""
        threading = self.threading
        return tuple(
            frozenset(shaft for shaft, up in zip(threading, row, strict=True) if up) for row in self.rows
        )

    @property
    def intersections(self) -> int:
        """How often a pick changes sides within the repeat, where it does so most often."""
        return max(
            sum(here != there for here, there in zip(row, (*row[1:], row[0]), strict=True))
            for row in self.rows
        )

    def up(self, end: int, pick: int) -> bool:
        """True where that end lies over that pick, both counted from 0 anywhere in the cloth."""
        return self.rows[pick % self.picks][end % self.ends]

    def mirrored(self, name: str) -> Structure:
        """The same with its line running the other way."""
        return Structure(name, self.written, tuple(row[::-1] for row in self.rows))


def twill(up: int, down: int) -> Structure:
    """Each pick passes under `up` ends and over `down`, the next one end further right.

    The line rises to the right. Raises CalcError unless both are one or more and one of them more than one.
    """
    if up < 1 or down < 1:
        raise CalcError("A twill has one end up and one down at least.", field="up" if up < 1 else "down")
    if up == down == 1:
        raise CalcError("One up, one down is plain weave, not a twill.", field="up")
    ends = up + down
    rows = tuple(tuple((end - pick) % ends < up for end in range(ends)) for pick in range(ends))
    return Structure(f"{up}/{down} twill", f"{up}/{down}", rows)


def basket(threads: int) -> Structure:
    """So many ends as one, and so many picks as one, in plain weave. Raises CalcError below two."""
    if threads < 2:
        raise CalcError("A basket weave has two threads as one at least.", field="threads")
    rows = tuple(
        tuple((end // threads + pick // threads) % 2 == 0 for end in range(2 * threads))
        for pick in range(2 * threads)
    )
    return Structure(f"{threads}/{threads} basket weave", f"{threads}/{threads}", rows)


def satin(ends: int, step: int, *, weft_faced: bool = False) -> Structure:
    """Each end is bound once in so many picks, `step` ends further on every pick; satin shows the warp.

    Raises CalcError unless every end comes to bind once, and no two neighbours follow each other (a twill).
    """
    if not 1 < step < ends - 1 or gcd(step, ends) != 1:
        raise CalcError("With this step not every end is bound, or a twill results.", field="step")
    rows = tuple(
        tuple(((end - pick * step) % ends == 0) is weft_faced for end in range(ends)) for pick in range(ends)
    )
    name = f"{ends}-end {'sateen' if weft_faced else 'satin'}"
    return Structure(name, f"1/{ends - 1}" if weft_faced else f"{ends - 1}/1", rows)


PLAIN_WEAVE = Structure("plain weave", "1/1", ((True, False), (False, True)))

_STRUCTURES: Mapping[str, Structure] = MappingProxyType(
    {
        "plain": PLAIN_WEAVE,
        "basket-2-2": basket(2),
        "basket-3-3": basket(3),
        "twill-2-2": twill(2, 2),
        "twill-1-2": twill(1, 2),
        "twill-2-1": twill(2, 1),
        "twill-1-3": twill(1, 3),
        "twill-3-1": twill(3, 1),
        "twill-2-2-left": twill(2, 2).mirrored("2/2 twill to the left"),
        "twill-1-2-left": twill(1, 2).mirrored("1/2 twill to the left"),
        "twill-2-1-left": twill(2, 1).mirrored("2/1 twill to the left"),
        "twill-1-3-left": twill(1, 3).mirrored("1/3 twill to the left"),
        "twill-3-1-left": twill(3, 1).mirrored("3/1 twill to the left"),
        "satin-5": satin(5, 2),
        "sateen-5": satin(5, 2, weft_faced=True),
    }
)


def structures() -> Mapping[str, Structure]:
    """Every structure that can be chosen, by the key under which a plan keeps it."""
    return _STRUCTURES


def structure(key: str) -> Structure:
    """One structure by its key. Raises CalcError that names what would be accepted."""
    try:
        return _STRUCTURES[key]
    except KeyError:
        known = ", ".join(each.name for each in _STRUCTURES.values())
        raise CalcError(f"This structure is not known. Known are: {known}.", field="structure") from None
