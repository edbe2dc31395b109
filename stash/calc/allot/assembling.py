"""What was found of each shade, put together by project."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from stash.calc.allot.allotment import Allotment, ProjectShare, ShadeShare, Standing
from stash.calc.allot.asked import Asked
from stash.calc.allot.case import Case
from stash.calc.allot.run import Run
from stash.calc.allot.serving import Serving
from stash.calc.allot.sharing import Shared
from stash.calc.allot.wound import wound_over
from stash.calc.packing import Line


def assembled(
    projects: Sequence[Sequence[Asked]],
    cases: Mapping[int, Case],
    served: Mapping[int, Serving],
    shared: Mapping[int, Shared],
    run: Run,
) -> Allotment:
    return Allotment(
        projects=tuple(_project(asked, cases, served.get(asked[0].project_id), shared) for asked in projects),
        reports=tuple(shared[shade_id].report for shade_id in sorted(shared)),
        fallback=run.fallback,
        stopped=run.cut_short,
    )


def _project(
    asked: Sequence[Asked],
    cases: Mapping[int, Case],
    serving: Serving | None,
    shared: Mapping[int, Shared],
) -> ProjectShare:
    shares = tuple(
        _share(one, one.held, False, cases[one.shade_id])
        if serving is None
        else _share(
            one,
            shared[one.shade_id].taken.lines.get(one.key, ()),
            one.key in shared[one.shade_id].buffered,
            cases[one.shade_id],
        )
        for one in asked
    )
    project_id = asked[0].project_id
    if serving is None:
        return ProjectShare(project_id, "fixed", shares)
    standing: Standing = "short" if serving.lacking else "served"
    return ProjectShare(project_id, standing, shares, serving.lacking, serving.proven)


def _share(one: Asked, lines: Sequence[Line], buffered: bool, case: Case) -> ShadeShare:
    packages = {package.id: package for package in case.packages}
    lots: dict[str, dict[tuple[bool, int], int | None]] = {"warp": {}, "weft": {}}
    for line in lines:
        package = packages.get(line.cone_id)
        if package is not None:
            lots[line.use][package.of_lot] = package.lot
    alone = case.alone(one)
    return ShadeShare(
        project_id=one.project_id,
        shade_id=one.shade_id,
        key=one.need.key,
        lines=tuple(lines),
        buffered=buffered,
        changed=sorted(map(_as_tuple, lines)) != sorted(map(_as_tuple, one.held)),
        warp_lots=tuple(lots["warp"].values()),
        weft_lots=tuple(lots["weft"].values()),
        warp_lots_alone=len(alone.warp_lots) if alone.complete else 0,
        wound_over=wound_over(one, lines),
    )


def _as_tuple(line: Line) -> tuple[int, str, int, int, int]:
    return line.cone_id, line.use, line.ends, line.length_um, line.mass_mg
