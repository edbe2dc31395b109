"""One shade among those who are served of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stash.calc.allot.allotment import Progress, ShadeReport, Way
from stash.calc.allot.asked import Key
from stash.calc.allot.case import Case
from stash.calc.allot.in_order import buffers, keep
from stash.calc.allot.run import Run
from stash.calc.allot.taken import Taken, by_cone, fit_together


@dataclass(frozen=True, slots=True)
class Shared:
    """Lines by key, of the served and of those who keep some; whose buffer is served; and how it came about."""

    taken: Taken
    buffered: frozenset[Key]
    report: ShadeReport


def share(cases: Mapping[int, Case], run: Run) -> dict[int, Shared]:
    """By shade; those first that need no solving."""
    found = {}
    contested = []
    for shade_id, case in cases.items():
        shared = proposals(case)
        if shared is None:
            contested.append(case)
        else:
            found[shade_id] = shared
    for at, case in enumerate(contested):
        found[case.shade_id] = packed(case)
        run.tell(Progress("sharing", at + 1, len(contested)))
    return found


def proposals(case: Case) -> Shared | None:
    """What each would reserve alone, where that fits together with all that the others hold."""
    cones = [package.less(0) for package in case.packages]
    found = [(one, one.proposed(cones)) for one in case.served]
    if not all(proposal.complete for _, proposal in found):
        return None
    taken = Taken(case.packages)
    for one, proposal in found:
        taken.give(one, proposal.lines)
    if not fit_together(case.packages, [(one, proposal.lines) for one, proposal in found]):
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
    return Shared(taken, buffered, report(case, taken, "fallback", lots_proven=False))


def report(
    case: Case, taken: Taken, way: Way, *, lots_proven: bool, stub_least_mg: int = 0, opened_least: int = 0
) -> ShadeReport:
    """The exact figures of it."""
    served = {one.key for one in case.served}
    opened = {line.cone_id for key, lines in taken.lines.items() if key in served for line in lines}
    used = by_cone(line for lines in taken.lines.values() for line in lines)
    stub_um, stub_mg = case.stub if case.asked else (0, 0)
    rests = [package.free_mg - used.get(package.id, 0) for package in case.packages]
    return ShadeReport(
        shade_id=case.shade_id,
        way=way,
        lots_proven=lots_proven,
        stub_um=stub_um,
        stub_mg=sum(rest for rest in rests if 0 < rest < stub_mg),
        stub_least_mg=stub_least_mg,
        opened=len(opened),
        opened_least=opened_least,
    )
