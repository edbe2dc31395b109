"""One shade among those who are served of it."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass

from stash.calc.allot.allotment import Progress, ShadeReport, Way
from stash.calc.allot.asked import Key
from stash.calc.allot.case import Case
from stash.calc.allot.in_order import buffers, keep
from stash.calc.allot.program import NoSolver
from stash.calc.allot.run import Run
from stash.calc.allot.staged import Staged
from stash.calc.allot.taken import Taken, by_cone

AT_ONCE = 2
"""Shades that are solved side by side."""


@dataclass(frozen=True, slots=True)
class Shared:
    """Lines by key, of the served and of those who keep some; whose buffer is served; and how it came about."""

    taken: Taken
    buffered: frozenset[Key]
    report: ShadeReport


def share(cases: Mapping[int, Case], run: Run) -> dict[int, Shared]:
    """By shade; those first that need no solving, then the others two by two."""
    found = {}
    contested = []
    for shade_id, case in cases.items():
        shared = proposals(case)
        if shared is None:
            contested.append(case)
        else:
            found[shade_id] = shared
    with ThreadPoolExecutor(AT_ONCE) as pool:
        waiting = {
            pool.submit(_shared, case, run, -(-(len(contested) - at) // AT_ONCE)): case
            for at, case in enumerate(contested)
        }
        for at, done in enumerate(as_completed(waiting)):
            found[waiting[done].shade_id] = done.result()
            run.tell(Progress("sharing", at + 1, len(contested)))
    return found


def _shared(case: Case, run: Run, rounds: int) -> Shared:
    """By the solver; by our own packing where there is none, or no time."""
    if case.served and not run.fallback and not run.over:
        staged = Staged(case, run)
        try:
            staged.through(run.left_s / rounds)
        except NoSolver as error:
            run.fallback = str(error)
        else:
            figures = report(
                case,
                staged.taken,
                "solver",
                lots_proven=staged.lots_proven,
                stub_least_mg=staged.stub_least_mg,
                opened_least=staged.opened_least,
            )
            return Shared(staged.taken, staged.buffered, figures)
    run.cut_short |= bool(case.served) and not run.fallback
    return packed(case)


def proposals(case: Case) -> Shared | None:
    """What each would reserve alone, where that fits together with all that the others hold."""
    cones = [package.less(0) for package in case.packages]
    found = [(one, one.proposed(cones)) for one in case.served]
    if not all(proposal.complete for _, proposal in found):
        return None
    taken = Taken(case.packages)
    for one, proposal in found:
        taken.give(one, proposal.lines)
    if taken.overdrawn():
        return None
    if any(len(keep(one, taken)) < len(one.held) for one in case.short):
        return None
    buffered = frozenset(one.key for one, proposal in found if proposal.buffered)
    return Shared(taken, buffered, report(case, taken, "proposals", lots_proven=True))


def packed(case: Case) -> Shared:
    """By our own packing, from the witness that all can be served."""
    taken = case.witness.copy() if case.witness else Taken(case.packages)
    for one in case.short:
        keep(one, taken)
    buffered = frozenset(buffers(case.served, taken))
    alone = not case.served
    return Shared(
        taken, buffered, report(case, taken, "proposals" if alone else "fallback", lots_proven=alone)
    )


def report(
    case: Case, taken: Taken, way: Way, *, lots_proven: bool, stub_least_mg: int = 0, opened_least: int = 0
) -> ShadeReport:
    """The exact figures of it."""
    served = {one.key for one in case.served}
    opened = {line.cone_id for key, lines in taken.lines.items() if key in served for line in lines}
    used = by_cone(line for lines in taken.lines.values() for line in lines)
    stub_um, stub_mg = case.stub if case.asked else (0, 0)
    rests = [package.free_mg - used.get(package.id, 0) for package in case.packages]
    stubs = sum(rest for rest in rests if 0 < rest < stub_mg)
    return ShadeReport(
        shade_id=case.shade_id,
        way=way,
        lots_proven=lots_proven,
        stub_um=stub_um,
        stub_mg=stubs,
        stub_least_mg=min(stub_least_mg, stubs),
        opened=len(opened),
        opened_least=min(opened_least, len(opened)),
    )
