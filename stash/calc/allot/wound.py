"""Packages fed at once: how many ends lack a package of their own, and giving them one where that costs nothing."""

from __future__ import annotations

from collections.abc import Sequence

from stash.calc.allot.asked import Asked
from stash.calc.allot.taken import Taken, mass_up
from stash.calc.packing import Line


def wound_over(one: Asked, lines: Sequence[Line]) -> int:
    """Ends for which a package has to be wound over if `at_once` are wound together as often as it takes.

    A cone gives one end a pass at most. So many passes there are as `at_once` goes into the ends, rounded up; what a
    cone gives beyond them has to be on another package.
    """
    ends = [line.ends for line in lines if line.use == "warp"]
    passes = -(-sum(ends) // one.at_once)
    return sum(max(0, of_cone - passes) for of_cone in ends)


def spread(one: Asked, taken: Taken) -> None:
    """Move ends from cones that give too many to others of the same lot that have room, as far as that goes."""
    lines = taken.lines[one.key]
    if not wound_over(one, lines):
        return
    ends = {line.cone_id: line.ends for line in lines if line.use == "warp"}
    weft = {line.cone_id: line.length_um for line in lines if line.use == "weft"}
    passes = -(-sum(ends.values()) // one.at_once)
    lots = {package.id: package.of_lot for package in taken.packages}
    room = {}
    for cone in taken.left(without=one.key):
        if one.need.wish != "cone" or cone.id == one.need.wish_cone_id:
            length = cone.free_mg * one.grist.length_um // one.grist.mass_mg
            whole = min(length // one.warp_um - one.keep_back, (length - weft.get(cone.id, 0)) // one.warp_um)
            room[cone.id] = min(passes, whole)
    for giver in sorted(ends, key=lambda cone_id: (-ends[cone_id], cone_id)):
        takers = [cone_id for cone_id in room if lots[cone_id] == lots[giver] and cone_id != giver]
        for taker in sorted(takers, key=lambda cone_id: (-ends.get(cone_id, 0), -room[cone_id], cone_id)):
            moved = min(ends[giver] - passes, room[taker] - ends.get(taker, 0))
            if moved > 0:
                ends[giver] -= moved
                ends[taker] = ends.get(taker, 0) + moved
    taken.give(one, _lines(one, ends, weft))


def _lines(one: Asked, ends: dict[int, int], weft: dict[int, int]) -> list[Line]:
    warp = [
        Line(cone_id, "warp", number, number * one.warp_um, mass_up(one, number * one.warp_um))
        for cone_id, number in ends.items()
        if number
    ]
    rest = []
    for cone_id, length in weft.items():
        before = ends.get(cone_id, 0) * one.warp_um
        rest.append(Line(cone_id, "weft", 0, length, mass_up(one, before + length) - mass_up(one, before)))
    return warp + rest
