"""Who is served: project by project, in their order, each if all its shades can be had beside those before it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from stash.calc.allot.allotment import Cause, Lacking, Progress
from stash.calc.allot.asked import Asked, Package
from stash.calc.allot.case import Case
from stash.calc.allot.in_order import any_order, bare
from stash.calc.allot.program import NoSolver
from stash.calc.allot.run import Run
from stash.calc.allot.solving import serve_all
from stash.calc.allot.taken import Taken

Answer = Taken | Literal["no", "unknown"]


@dataclass(frozen=True, slots=True)
class Serving:
    """What becomes of a project: served if it lacks nothing."""

    lacking: tuple[Lacking, ...]
    proven: bool


def serve(projects: Sequence[Sequence[Asked]], cases: Mapping[int, Case], run: Run) -> dict[int, Serving]:
    """By project, those already begun left out; the cases learn whom they serve."""
    found = {}
    for at, asked in enumerate(projects):
        if not asked[0].fixed:
            found[asked[0].project_id] = _serve(asked, cases, run)
        run.tell(Progress("serving", at + 1, len(projects)))
    return found


def _serve(asked: Sequence[Asked], cases: Mapping[int, Case], run: Run) -> Serving:
    ways: list[tuple[Case, Asked, Taken]] = []
    lacking: list[Lacking] = []
    proven = True
    # Two keys of a plan that are of one shade have to be had together.
    for shade_id in sorted({one.shade_id for one in asked}):
        case = cases[shade_id]
        ones = [one for one in asked if one.shade_id == shade_id]
        answer = _with(case, ones, run)
        if isinstance(answer, Taken):
            ways += [(case, one, answer) for one in ones]
            continue
        cause: Cause = "time" if answer == "unknown" else "before"
        if answer == "no" and not isinstance(_alone(case, ones, run), Taken):
            cause = "alone"
        before = tuple(dict.fromkeys(one.project_id for one in case.served)) if cause == "before" else ()
        lacking += [Lacking(shade_id, one.need.key, cause, before) for one in ones]
    if not lacking:
        for case, one, way in ways:
            case.served.append(one)
            case.witness = way
    elif all(lack.cause == "time" for lack in lacking):
        proven = False
    return Serving(tuple(lacking), proven and not run.fallback)


def _with(case: Case, ones: Sequence[Asked], run: Run) -> Answer:
    """These beside all that are served already."""
    taken = case.witness.copy() if case.witness else Taken(case.packages)
    for one in ones:
        packing = bare(one, taken.left())
        if not packing.complete:
            break
        taken.give(one, packing.lines)
    else:
        return taken
    together = [*case.served, *ones]
    return any_order(together, case.packages) or _solved(together, case.packages, run)


def _alone(case: Case, ones: Sequence[Asked], run: Run) -> Answer:
    return any_order(ones, case.packages) or _solved(ones, case.packages, run)


def _solved(together: Sequence[Asked], packages: Sequence[Package], run: Run) -> Answer:
    if sum(_least_mg(one) for one in together) > sum(package.free_mg for package in packages):
        return "no"
    if run.fallback:
        return "no"
    try:
        return serve_all(together, packages, run)
    except NoSolver as error:
        run.fallback = str(error)
        return "no"


def _least_mg(one: Asked) -> int:
    """Whole mg that the bare need cannot do with less than."""
    return one.bare_um * one.grist.mass_mg // one.grist.length_um
