"""A program in whole numbers, and its solving by HiGHS. Nothing of yarn is known here.

HiGHS: Q. Huangfu, J. A. J. Hall, Parallelizing the dual revised simplex method, Mathematical Programming Computation
10 (2018), 119-142 (from memory). Its threads are its own: Python goes on while it works.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, inf
from typing import Literal

Terms = Mapping[int, float]
"""Coefficients by variable."""


class NoSolver(Exception):
    """HiGHS is not installed, or failed; the words are a sentence for people."""


@dataclass(frozen=True, slots=True)
class Answer:
    """optimal: proven; found: a solution that may not be the best; none: proven that there is no solution; open: time
    was over before anything was known."""

    state: Literal["optimal", "found", "none", "open"]
    values: Sequence[float]
    """By variable; empty where there is no solution."""
    cost: float
    least: float
    """Proven that no solution costs less."""

    @property
    def at_least(self) -> int:
        """The same where what it costs is a whole number, not below 0."""
        return ceil(self.least - 1e-6) if 0 < self.least < inf else 0


class Program:
    def __init__(self) -> None:
        self._lower: list[float] = []
        self._upper: list[float] = []
        self._whole: list[bool] = []
        self._row_lower: list[float] = []
        self._row_upper: list[float] = []
        self._starts: list[int] = [0]
        self._columns: list[int] = []
        self._factors: list[float] = []

    def variable(self, upper: float, *, whole: bool = False, lower: float = 0) -> int:
        self._lower.append(lower)
        self._upper.append(upper)
        self._whole.append(whole)
        return len(self._lower) - 1

    def yes_or_no(self) -> int:
        return self.variable(1, whole=True)

    def bound(self, variable: int, lower: float, upper: float) -> None:
        """In place of the bounds that it had."""
        self._lower[variable], self._upper[variable] = lower, upper

    def most(self, variable: int) -> float:
        return self._upper[variable]

    def between(self, lower: float, terms: Terms, upper: float) -> int:
        """The number of the row that says so."""
        self._row_lower.append(lower)
        self._row_upper.append(upper)
        self._columns += terms.keys()
        self._factors += terms.values()
        self._starts.append(len(self._columns))
        return len(self._row_upper) - 1

    def at_most(self, terms: Terms, upper: float) -> int:
        return self.between(-inf, terms, upper)

    def limit(self, row: int, upper: float) -> None:
        """In place of the most that the row allowed."""
        self._row_upper[row] = upper

    def equal(self, terms: Terms, value: float) -> None:
        self.between(value, terms, value)

    def solve(
        self,
        costs: Terms,
        *,
        seconds: float,
        over: Callable[[], bool],
        start: Sequence[float] = (),
        hint: Terms | None = None,
        whole_costs: bool = False,
    ) -> Answer:
        """The solution of least cost, to a gap of 0.

        `start` is a solution to begin with, `hint` the values of some variables of one. `over` is asked now and then,
        and ends it. With `whole_costs` every solution costs a whole number. Raises NoSolver.
        """
        try:
            import highspy
            import numpy
        except ImportError as error:
            raise NoSolver("The solver is not installed.") from error

        columns = len(self._lower)
        if not columns:
            holds = all(low <= 0 <= high for low, high in zip(self._row_lower, self._row_upper, strict=True))
            return Answer("optimal", (), 0, 0) if holds else Answer("none", (), inf, inf)
        cost = numpy.zeros(columns)
        for variable, factor in costs.items():
            cost[variable] = factor
        solver = highspy.Highs()  # type: ignore[no-untyped-call]
        for option, value in _OPTIONS.items():
            solver.setOptionValue(option, value)
        solver.setOptionValue("time_limit", max(0.01, seconds))
        solver.setOptionValue("mip_abs_gap", 0.999 if whole_costs else 0.0)
        solver.passModel(
            columns,
            len(self._row_lower),
            len(self._columns),
            int(highspy.MatrixFormat.kRowwise),
            int(highspy.ObjSense.kMinimize),
            0.0,
            cost,
            numpy.array(self._lower, dtype=float),
            numpy.array(self._upper, dtype=float),
            numpy.array(self._row_lower, dtype=float),
            numpy.array(self._row_upper, dtype=float),
            numpy.array(self._starts, dtype=numpy.int32),
            numpy.array(self._columns, dtype=numpy.int32),
            numpy.array(self._factors, dtype=float),
            numpy.array(self._whole, dtype=numpy.int32),
        )
        known = dict(enumerate(start)) or dict(hint or {})
        if known:
            solver.setSolution(
                len(known),
                numpy.array(list(known), dtype=numpy.int32),
                numpy.array(list(known.values()), dtype=float),
            )

        def ask(event: highspy.HighsCallbackEvent) -> None:
            if over():
                event.interrupt()

        solver.cbMipInterrupt.subscribe(ask)
        solver.run()
        return _answer(solver, any(self._whole))


_OPTIONS = {
    "output_flag": False,
    "threads": 1,  # two shades are solved side by side
    "mip_rel_gap": 0.0,
    "mip_feasibility_tolerance": 1e-7,
    "primal_feasibility_tolerance": 1e-7,
}


def _answer(solver: object, whole: bool) -> Answer:
    import highspy

    assert isinstance(solver, highspy.Highs)
    status = solver.getModelStatus()
    info = solver.getInfo()
    statuses = highspy.HighsModelStatus
    if status == statuses.kInfeasible:
        return Answer("none", (), inf, inf)
    if status not in (statuses.kOptimal, statuses.kTimeLimit, statuses.kInterrupt):
        raise NoSolver(f"The solver could not go on: {solver.modelStatusToString(status)}.")
    least = info.mip_dual_bound if whole else info.objective_function_value
    if status == statuses.kOptimal:
        values = list(solver.getSolution().col_value)
        return Answer("optimal", values, info.objective_function_value, least)
    if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
        values = list(solver.getSolution().col_value)
        return Answer("found", values, info.objective_function_value, least)
    return Answer("open", (), inf, least)
