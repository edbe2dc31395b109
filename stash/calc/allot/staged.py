"""One contested shade through the stages, each of which holds to what those before it found.

Never one sum with weights: with weights large enough to keep the order the solver's tolerance decides, not the order.
Each stage begins with what the one before it found, and is skipped where that is known to be the best already. The
stages up to the buffers are proven unless the deadline comes; those after have so many seconds between them, and say how
far they may be from the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import inf
from operator import gt
from time import monotonic

from stash.calc.allot import lots, rests
from stash.calc.allot.asked import Key, Package
from stash.calc.allot.case import Case
from stash.calc.allot.exact import buffers_of, made_exact
from stash.calc.allot.in_order import any_order, buffers, keep
from stash.calc.allot.model import Model
from stash.calc.allot.patterns import fewest_cones
from stash.calc.allot.program import Answer, Terms
from stash.calc.allot.run import Run
from stash.calc.allot.taken import Taken, by_cone
from stash.calc.allot.wound import wound_over

SLACK_M = 1e-6
"""By which a stage may fall behind the one before it, as the solver's tolerance."""
TIDY_S = 0.3
"""For each of the last stages, which are matters of taste."""
WOUND_S = 1.0
"""To find the fewest ends that have to be wound over: good ways are found soon, and that none is better is seldom proven."""
TRY_S = 2.0
"""To serve as many at once as can be, before they are asked for one by one."""


class Staged:
    """`taken` is the best so far, `buffered` whose buffers are in it."""

    def __init__(self, case: Case, run: Run) -> None:
        assert case.witness is not None, "who is served was found to be servable"
        self.case = case
        self.run = run
        self.taken = case.witness.copy()
        self.buffered: frozenset[Key] = frozenset()
        self.lots_proven = True
        self.settled = False
        """Lots, what others keep and buffers are through: `taken` can be given."""
        self.stub_least_mg = 0
        self.opened_least = 0
        self._until = 0.0
        self._counts: lots.Counts = (0, 0, 0, 0)
        self._packages: list[Package] = []
        self._model: Model | None = None
        self._stubs_mg: int | None = None

    def lots_and_buffers(self, seconds: float) -> None:
        """The lots, then what others keep and the buffers, of which what is not settled in `seconds` is left out."""
        self._until = monotonic() + max(seconds, self.run.question_s)
        self._counts = self._lots()
        self._until = monotonic() + seconds
        self._packages = self._others_and_buffers(self._counts)
        self.settled = True

    def stubs(self, seconds: float) -> None:
        """After those: the fewest ends to be wound over, and the least stubs."""
        if not self.settled:
            return
        self._until = monotonic() + seconds
        case = self.case
        model = self._model = Model(case.served, self._packages, buffers=self.buffered)
        lots.hold(model, self._counts)
        over = sum(wound_over(one, self.taken.lines[one.key]) for one in case.served)
        terms = rests.wound_over(model)
        if over and terms:
            answer = self._better(model, terms, most_s=WOUND_S, whole=True)
            over = round(answer.cost) if answer.values else over
        if terms:
            model.program.at_most(terms, over)
        self._stubs(model)

    def cones(self, seconds: float) -> None:
        """After the stubs: the fewest cones opened, then the smallest lots and cones, then the fewest takers a cone."""
        model = self._model
        if model is None:
            return
        self._until = monotonic() + seconds
        cones = rests.opened(model)
        self._opened(model, cones)
        for sizes in (rests.lot_sizes(model, cones), rests.cone_sizes(model, cones)):
            answer = self._better(model, sizes, most_s=TIDY_S)
            if answer.values:
                model.program.at_most(sizes, answer.cost + SLACK_M)
        self._better(model, rests.takers(model), most_s=TIDY_S, whole=True)

    def _lots(self) -> lots.Counts:
        case = self.case
        least = lots.least(case.served)
        counts = lots.counted(case.served, case.packages, self.taken.lines)
        other = any_order(case.served, case.packages)
        if other is not None and (found := lots.counted(case.served, case.packages, other.lines)) < counts:
            self.taken, counts = other, found
        if counts == least:
            return counts
        model = Model(case.served, case.packages)
        for at, measure in enumerate(lots.MEASURES):
            terms, settled = lots.terms(model, measure)
            if not terms:
                continue
            if counts[at] > least[at]:
                answer, taken = self._solve(model, terms, self._until - monotonic(), whole=True)
                if taken is not None:
                    found = lots.counted(case.served, case.packages, taken.lines)
                    if found[: at + 1] < counts[: at + 1]:
                        self.taken, counts = taken, found
                self.lots_proven &= answer.at_least >= counts[at] - settled
            model.program.at_most(terms, counts[at] - settled)
        return counts

    def _others_and_buffers(self, counts: lots.Counts) -> list[Package]:
        """What those keep who are not served, then the buffers. Gives the cones without what is kept."""
        case = self.case
        if not self._packed(counts):
            self._solve_others_and_buffers(counts)
        staying = by_cone(line for one in case.short for line in self.taken.lines.get(one.key, ()))
        return [
            replace(package, free_mg=package.free_mg - staying.get(package.id, 0))
            for package in case.packages
        ]

    def _packed(self, counts: lots.Counts) -> bool:
        """Whether our own packing finds room for all that the others hold and for all buffers. What it finds is a
        beginning in any case, if it mixes no more."""
        case = self.case
        taken = self.taken.copy()
        kept = [len(keep(one, taken)) == len(one.held) for one in case.short]
        served = buffers(case.served, taken)
        found = lots.counted(case.served, case.packages, taken.lines)
        if any(map(gt, found, counts)):
            return False
        self.taken, self.buffered = taken, frozenset(served)
        return all(kept) and len(served) == len(case.served)

    def _solve_others_and_buffers(self, counts: lots.Counts) -> None:
        case = self.case
        ids = {package.id for package in case.packages}
        kept = [(one, line) for one in case.short for line in one.held if line.cone_id in ids]
        model = Model(case.served, case.packages, buffers=None, kept=kept)
        lots.hold(model, counts)
        self._one_by_one(
            model,
            [stays for _, _, stays in model.kept]
            + [part.buffer for part in model.parts if part.buffer is not None],
        )

    def _one_by_one(self, model: Model, questions: Sequence[int]) -> None:
        """Each in its turn a yes if that is possible beside the yeses before it."""
        if not questions:
            return
        values = self._tried(model, dict.fromkeys(questions, -1.0), TRY_S)[0]
        for at, question in enumerate(questions):
            model.program.bound(question, 1, 1)
            if values and values[question] > 0.5:
                continue
            left = max(0.0, self._until - monotonic())
            found, settled = self._tried(
                model, dict.fromkeys(questions[at + 1 :], -1.0), min(left / 4, TRY_S)
            )
            if not found and not settled:
                found, settled = self._tried(model, {}, left / 4)
            if found:
                values = found
            else:
                model.program.bound(question, 0, 0)
                self.run.cut_short |= not settled

    def _tried(self, model: Model, costs: Terms, seconds: float) -> tuple[Sequence[float], bool]:
        """A solution that is exact too, which is taken; and whether it is settled that there is one or none."""
        answer, taken = self._solve(model, costs, seconds)
        if taken is None:
            return (), answer.state == "none"
        self.taken, self.buffered = taken, buffers_of(model, answer.values)
        return answer.values, True

    def _stubs(self, model: Model) -> None:
        terms, settled = rests.stubs(model, self.case.stub[1])
        answer = self._better(model, terms)
        self.stub_least_mg = rests.mass_mg(model, max(0.0, answer.least) + settled)
        if answer.values:
            model.hold_rests(terms, answer.cost + SLACK_M)
        self._stubs_mg = self.case.stubs_mg(self.taken)

    def _opened(self, model: Model, cones: dict[int, int]) -> None:
        terms = dict.fromkeys(cones.values(), 1.0)
        answer = self._better(model, terms, whole=True)
        self.opened_least = answer.at_least
        if answer.state != "optimal":
            self.opened_least = max(self.opened_least, self._cones_to_cut())
        if answer.values:
            model.program.at_most(terms, round(answer.cost))

    def _cones_to_cut(self) -> int:
        """How many cones the warps need at least, were all as long as the longest and of one lot."""
        served = self.case.served
        grist = served[0].grist
        if any(one.grist != grist for one in served):
            return 0
        longest = max(package.free_mg for package in self.case.packages) * grist.length_um // grist.mass_mg
        ends = [
            (
                one.warp_um,
                one.need.ends_buffered if one.key in self.buffered else one.need.ends,
            )
            for one in served
        ]
        cut = fewest_cones(longest, ends, seconds=TIDY_S, over=lambda: self.run.over, least_only=True)
        return cut.least if cut else 0

    def _better(self, model: Model, costs: Terms, *, most_s: float = inf, whole: bool = False) -> Answer:
        """Solve a stage that need not be proven, in at most half the time that is left, and take what comes of it."""
        left = min(most_s, (self._until - monotonic()) / 2)
        if left <= 0:
            self.run.cut_short = True
            return Answer("open", (), 0, 0)
        answer, taken = self._solve(model, costs, left, whole=whole)
        if taken is None:
            return Answer("open", (), 0, answer.least if answer.state != "none" else 0)
        for one in self.case.short:
            taken.give(one, self.taken.lines.get(one.key, ()), kept=True)
        # What rounding may add to the stubs is no part of the program.
        if self._stubs_mg is not None and self.case.stubs_mg(taken) > self._stubs_mg:
            return Answer("open", (), 0, answer.least)
        self.taken = taken
        return answer

    def _solve(
        self, model: Model, costs: Terms, seconds: float, *, whole: bool = False
    ) -> tuple[Answer, Taken | None]:
        """The answer, and what it is made exact. Where it holds by tolerance alone, the least it says stands, and the
        solution is one of a second question that leaves room for rounding."""
        answer = self._asked(model, costs, seconds, whole)
        taken = made_exact(model, answer.values) if answer.values else None
        if not answer.values or taken is not None:
            return answer, taken
        model.leave(1)
        again = self._asked(model, costs, seconds, whole)
        model.leave(0)
        taken = made_exact(model, again.values) if again.values else None
        return replace(again, state=again.state if again.values else "open", least=answer.least), taken

    def _asked(self, model: Model, costs: Terms, seconds: float, whole: bool) -> Answer:
        return model.program.solve(
            costs,
            seconds=max(0.0, min(seconds, self.run.left_s)),
            over=lambda: self.run.over,
            hint=model.hint(self.taken.lines),
            whole_costs=whole,
        )
