"""How many lots are mixed: counted in lines, and as terms of a model."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from stash.calc.allot.asked import Asked, Key, Package
from stash.calc.allot.model import Model
from stash.calc.packing import Line

MEASURES = ("mixed", "warp", "weft", "any")
"""Warps of several lots; lots of warp, of weft, and of both together, each summed over all who ask. In this order."""

Counts = tuple[int, int, int, int]


def counted(
    asked: Sequence[Asked], packages: Sequence[Package], lines: Mapping[Key, Sequence[Line]]
) -> Counts:
    lot = {package.id: package.of_lot for package in packages}
    mixed = warps = wefts = both = 0
    for one in asked:
        given = lines.get(one.key, ())
        warp = {lot[line.cone_id] for line in given if line.use == "warp"}
        weft = {lot[line.cone_id] for line in given if line.use == "weft"}
        mixed += len(warp) > 1
        warps, wefts, both = warps + len(warp), wefts + len(weft), both + len(warp | weft)
    return mixed, warps, wefts, both


def least(asked: Sequence[Asked]) -> Counts:
    """What nobody can do with fewer than: one lot for each warp, and for each weft."""
    warps = [one for one in asked if one.need.ends]
    wefts = [one for one in asked if one.need.weft_um(one.pieces)]
    return 0, len(warps), len(wefts), len({one.key for one in (*warps, *wefts)})


def terms(model: Model, measure: str) -> tuple[dict[int, float], int]:
    """What to add up, and what has to be added for those who have no choice."""
    found: dict[int, float] = {}
    settled = 0
    for part in model.parts:
        if measure == "mixed":
            if part.mixed is not None:
                found[part.mixed] = 1
            continue
        which = {"warp": part.warp_lot, "weft": part.weft_lot, "any": part.any_lot}[measure]
        found |= dict.fromkeys(which.values(), 1)
        need = part.one.need
        warp, weft = bool(need.ends), bool(need.weft_um(part.one.pieces))
        settled += {"warp": warp, "weft": weft, "any": warp or weft}[measure] and not which
    return found, settled


def hold(model: Model, counts: Counts) -> None:
    """From now on no more lots than so many."""
    for measure, count in zip(MEASURES, counts, strict=True):
        found, settled = terms(model, measure)
        if found:
            model.program.at_most(found, count - settled)
