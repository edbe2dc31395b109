"""Sharing out by our own packing, one project after the other: quick, never wrong, and not always the best.

It serves as the witness that something can be done, which spares the solver most questions, and where there is no
solver it is the way itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from stash.calc.allot.asked import Asked, Key, Package
from stash.calc.allot.taken import Taken
from stash.calc.packing import ConeStock, Line, Packing, pack


def bare(one: Asked, cones: Sequence[ConeStock]) -> Packing:
    """The need without its buffer, from these cones."""
    return pack(one.need, one.warp_um, one.pieces, one.keep_back, one.grist, cones, False)


def in_order(asked: Iterable[Asked], packages: Sequence[Package]) -> Taken | None:
    """All of these served, barely, each from what those before it leave; None where one of them is short."""
    taken = Taken(packages)
    for one in asked:
        packing = bare(one, taken.left())
        if not packing.complete:
            return None
        taken.give(one, packing.lines)
    return taken


def any_order(asked: Sequence[Asked], packages: Sequence[Package]) -> Taken | None:
    """The same, in whichever of a few orders serves all: as they stand, and those with the hardest wishes first."""
    return in_order(asked, packages) or in_order(sorted(asked, key=_hardest), packages)


def _hardest(one: Asked) -> tuple[int, int, Key]:
    wishes = ("cone", "lot", "same", "any")
    return wishes.index(one.need.wish), -one.need.ends * one.warp_um, one.key


def buffers(asked: Iterable[Asked], taken: Taken) -> set[Key]:
    """Serve the buffers too, in this order, where that mixes no more lots. Who got his."""
    served = set()
    for one in asked:
        found = one.proposed(taken.left(without=one.key))
        before = {line.cone_id for line in taken.lines[one.key] if line.use == "warp"}
        if found.complete and found.buffered and len(found.warp_lots) <= max(1, _lots(taken, before)):
            taken.give(one, found.lines)
            served.add(one.key)
    return served


def _lots(taken: Taken, cone_ids: set[int]) -> int:
    return len({package.of_lot for package in taken.packages if package.id in cone_ids})


def keep(one: Asked, taken: Taken) -> tuple[Line, ...]:
    """Of what a project holds that is not served: all lines that are still to be had."""
    lines: list[Line] = []
    for line in one.held:
        left = {cone.id: cone.free_mg for cone in taken.left(without=one.key)}
        used = sum(kept.mass_mg for kept in lines if kept.cone_id == line.cone_id)
        if used + line.mass_mg <= left.get(line.cone_id, -1):
            lines.append(line)
    taken.give(one, lines, kept=True)
    return tuple(lines)
