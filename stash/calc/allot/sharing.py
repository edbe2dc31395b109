"""One shade among those who are served of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass

from stash.calc.allot.allotment import Progress, ShadeReport, Way
from stash.calc.allot.asked import Key
from stash.calc.allot.case import Case
from stash.calc.allot.in_order import buffers, keep
from stash.calc.allot.program import NoSolver
from stash.calc.allot.run import Run
from stash.calc.allot.staged import Staged
from stash.calc.allot.taken import Taken
from stash.calc.allot.wound import spread

AT_ONCE = 2
"""Shades that are solved side by side."""
ROUNDS: tuple[tuple[Callable[[Staged, float], None], float], ...] = (
    (Staged.lots_and_buffers, 0.6),
    (Staged.stubs, 0.5),
    (Staged.cones, 1.0),
)
"""What is done for all contested shades before the next is, and what part of the time left it may take."""


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
    staged = {case.shade_id: Staged(case, run) for case in contested if case.served}
    progress = _Told(run, len(ROUNDS) * len(staged))
    for work, part in ROUNDS:
        _side_by_side(staged, work, run, part, progress)
    for case in contested:
        solved = staged.get(case.shade_id)
        if solved is None or not solved.settled:
            found[case.shade_id] = packed(case)
            continue
        figures = report(
            case,
            solved.taken,
            "solver",
            lots_proven=solved.lots_proven,
            stub_least_mg=solved.stub_least_mg,
            opened_least=solved.opened_least,
        )
        found[case.shade_id] = Shared(solved.taken, solved.buffered, figures)
    return found


class _Told:
    def __init__(self, run: Run, of: int) -> None:
        self.run, self.done, self.of = run, 0, of

    def one_more(self) -> None:
        self.done += 1
        self.run.tell(Progress("sharing", self.done, self.of))


def _side_by_side(
    staged: Mapping[int, Staged],
    work: Callable[[Staged, float], None],
    run: Run,
    part: float,
    progress: _Told,
) -> None:
    """Each has of this part of the time as much as all that are still to be solved, two by two."""
    waiting = list(staged.values())
    kept_s = run.left_s * (1 - part)

    def next_one(at: int) -> None:
        rounds = -(-(len(waiting) - at) // AT_ONCE)
        if run.fallback or run.over:
            run.cut_short |= not run.fallback
            return
        try:
            work(waiting[at], max(0.0, run.left_s - kept_s) / rounds)
        except NoSolver as error:
            run.fallback = str(error)

    with ThreadPoolExecutor(AT_ONCE) as pool:
        for done in as_completed([pool.submit(next_one, at) for at in range(len(waiting))]):
            done.result()
            progress.one_more()


def proposals(case: Case) -> Shared | None:
    """What each would reserve alone, where that fits together with all that the others hold.

    Ends are moved within a lot, as far as there is room, where several are wound at once.
    """
    found = [(one, case.alone(one)) for one in case.served]
    if not all(proposal.complete for _, proposal in found):
        return None
    taken = Taken(case.packages)
    for one, proposal in found:
        taken.give(one, proposal.lines)
    if taken.overdrawn():
        return None
    if any(len(keep(one, taken)) < len(one.held) for one in case.short):
        return None
    for one in case.served:
        spread(one, taken)
    buffered = frozenset(one.key for one, proposal in found if proposal.buffered)
    return Shared(taken, buffered, report(case, taken, "proposals", lots_proven=True))


def packed(case: Case) -> Shared:
    """By our own packing, from the witness that all can be served."""
    taken = case.witness.copy() if case.witness else Taken(case.packages)
    for one in case.short:
        keep(one, taken)
    buffered = frozenset(buffers(case.served, taken))
    for one in case.served:
        spread(one, taken)
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
    stub_um, _ = case.stub
    stubs = case.stubs_mg(taken)
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
