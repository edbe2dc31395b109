"""The second look at an allotment: in whole ends, um and mg, by rules read anew and not from how it was made."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from stash.calc.allot.allotment import Allotment, ShadeShare, Standing
from stash.calc.allot.asked import Asked, Key, Package
from stash.calc.packing import Line


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that an allotment promises and the shelf or the plan does not bear out."""

    words: str
    project_id: int | None = None
    shade_id: int | None = None
    cone_id: int | None = None


def check_allotment(
    asked: Sequence[Asked],
    packages: Sequence[Package],
    found: Allotment,
    only: Collection[int] | None = None,
) -> tuple[Fault, ...]:
    """What is wrong with it; nothing, for every allotment that `allot` makes of the same asked and packages.

    With `only` the projects of these ids take what they are given, and all others keep what they hold now.
    """
    wanted = {one.key: one for one in asked}
    cones = {package.id: package for package in packages}
    faults: list[Fault] = []
    lines: dict[Key, tuple[Line, ...]] = {one.key: one.held for one in asked}
    new: set[Key] = set()
    kept: set[Key] = set()
    seen: list[Key] = []
    for project in found.projects:
        seen += [share.id for share in project.shades]
        if only is not None and project.project_id not in only:
            continue
        for share in project.shades:
            one = wanted.get(share.id)
            if one is None or one.shade_id != share.shade_id:
                faults.append(Fault("Nobody asked for it.", share.project_id, share.shade_id))
                continue
            lines[share.id] = share.lines
            if project.standing == "served":
                new.add(share.id)
            elif not one.fixed:
                kept.add(share.id)
            faults += [
                Fault(words, share.project_id, share.shade_id, cone_id)
                for words, cone_id in _faults_of(one, share, project.standing, cones)
            ]
    if sorted(seen) != sorted(wanted):
        faults.append(Fault("Not every shade that is asked for is answered once."))
    return tuple(faults + list(_overdrawn(wanted, lines, new, kept, cones)))


def _faults_of(
    one: Asked, share: ShadeShare, standing: Standing, cones: dict[int, Package]
) -> Iterator[tuple[str, int | None]]:
    if (standing == "fixed") != one.fixed:
        yield "What is begun stays as it is, and only that.", None
    if standing == "fixed":
        if share.lines != one.held:
            yield "Yarn of a project that is begun would move.", None
        return
    if standing == "short":
        held = list(one.held)
        if any(line not in held for line in share.lines) or len(set(share.lines)) < len(share.lines):
            yield "A project that is not served would get something new.", None
        return
    yield from _lines_faults(one, share.lines, cones)
    yield from _need_faults(one, share, cones)


def _lines_faults(
    one: Asked, lines: Sequence[Line], cones: dict[int, Package]
) -> Iterator[tuple[str, int | None]]:
    if len({(line.cone_id, line.use) for line in lines}) < len(lines):
        yield "A cone stands twice for the same use.", None
    warp = {line.cone_id: line.length_um for line in lines if line.use == "warp"}
    for line in lines:
        cone = cones.get(line.cone_id)
        if cone is None or cone.shade_id != one.shade_id:
            yield "The cone is not one of this shade that is free.", line.cone_id
            continue
        if line.use == "warp" and not (line.ends > 0 and line.length_um == line.ends * one.warp_um):
            yield "Warp is not cut in whole ends.", line.cone_id
        if line.use == "weft" and (line.ends or line.length_um < 1):
            yield "Weft has no ends, and is longer than nothing.", line.cone_id
        before = warp.get(line.cone_id, 0) if line.use == "weft" else 0
        if line.mass_mg != _mg(one, before + line.length_um) - _mg(one, before):
            yield "Length and mass do not agree.", line.cone_id


def _need_faults(
    one: Asked, share: ShadeShare, cones: dict[int, Package]
) -> Iterator[tuple[str, int | None]]:
    need = one.need
    ends = need.ends_buffered if share.buffered else need.ends
    if sum(line.ends for line in share.lines) != ends:
        yield "The ends are not those that are needed.", None
    warp_lots: set[tuple[bool, int]] = set()
    weft: dict[tuple[bool, int], int] = {}
    for line in share.lines:
        cone = cones.get(line.cone_id)
        if cone is None:
            continue
        lot = (False, cone.id) if cone.lot is None else (True, cone.lot)
        if line.use == "warp":
            warp_lots.add(lot)
        else:
            weft[lot] = weft.get(lot, 0) + line.length_um
        if need.wish == "lot" and cone.lot != need.wish_lot_id:
            yield "It is not of the lot that is wished for.", cone.id
        if need.wish == "cone" and cone.id != need.wish_cone_id:
            yield "It is not the cone that is wished for.", cone.id
    if need.wish == "same" and len(warp_lots | weft.keys()) > 1:
        yield "Warp and weft are not of one lot.", None
    piece = need.weft_piece_buffered_um if share.buffered else need.weft_piece_um
    sample = need.weft_sample_buffered_um if share.buffered else need.weft_sample_um
    if not _whole_pieces(list(weft.values()), one.pieces, piece, sample):
        yield "The weft is not that of whole pieces and of the sample, each of one lot.", None
    if len(share.warp_lots) != len(warp_lots) or len(share.weft_lots) != len(weft):
        yield "The lots are not counted as they are.", None


def _whole_pieces(by_lot: list[int], pieces: int, piece_um: int, sample_um: int) -> bool:
    """Whether these lengths, one a lot, are those of so many whole pieces and of a sample that is not divided."""
    if sum(by_lot) != pieces * piece_um + sample_um:
        return False

    def whole(length: int) -> bool:
        return length >= 0 and (length % piece_um == 0 if piece_um else length == 0)

    if not sample_um:
        return all(map(whole, by_lot))
    return any(
        whole(length - sample_um) and all(map(whole, by_lot[:at] + by_lot[at + 1 :]))
        for at, length in enumerate(by_lot)
    )


def _overdrawn(
    wanted: dict[Key, Asked],
    lines: dict[Key, tuple[Line, ...]],
    new: set[Key],
    kept: set[Key],
    cones: dict[int, Package],
) -> Iterator[Fault]:
    """Cones asked for more than is free on them. One that was undercut before, and gives nothing new, is no fault."""
    mass: dict[int, dict[Key, int]] = {}
    for key, given in lines.items():
        for line in given:
            on_cone = mass.setdefault(line.cone_id, {})
            on_cone[key] = on_cone.get(key, 0) + line.mass_mg
    for cone_id, by_key in sorted(mass.items()):
        takers = [key for key in by_key if key in new or key in kept]
        free = cones[cone_id].free_mg if cone_id in cones else 0
        if not takers:
            continue
        total = sum(by_key.values())
        if total > free:
            yield Fault(
                f"The cone is asked for {total} mg, and {free} mg are free.",
                takers[0][0],
                wanted[takers[0]].shade_id,
                cone_id,
            )
            continue
        for key in takers:
            one = wanted[key]
            ends = sum(line.ends for line in lines[key] if line.cone_id == cone_id)
            if ends and key in new and not _kept_back(one, ends, total - by_key[key], free):
                yield Fault(
                    "What is kept back for knots would not be there.", one.project_id, one.shade_id, cone_id
                )


def _kept_back(one: Asked, ends: int, others_mg: int, free_mg: int) -> bool:
    return others_mg + _mg(one, (ends + one.keep_back) * one.warp_um) <= free_mg


def _mg(one: Asked, length_um: int) -> int:
    return -(-length_um * one.grist.mass_mg // one.grist.length_um)
