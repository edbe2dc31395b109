"""How an allotment runs: told, stopped, out of time, and without a solver. All figures invented."""

import sys
from dataclasses import replace
from random import Random
from threading import get_ident

import pytest

from stash.calc.allot import Stop, allot, check_allotment
from stash.calc.allot.program import Program
from stash.calc.packing import Line
from tests.calc.allot.shelves import asks, package
from tests.calc.allot.studios import studio
from tests.calc.plans import YD

pytestmark = pytest.mark.once

CONTESTED = (
    [asks(1, ends=5), asks(2, ends=4, wish="lot", lot=20)],
    [package(1, 100, lot=10), package(2, 50, lot=20)],
)


def test_progress_is_told_to_the_end_by_the_thread_that_asked():
    heard = []
    allot(*CONTESTED, deadline_s=20, told=lambda progress: heard.append((progress, get_ident())))
    assert {thread for _, thread in heard} == {get_ident()}
    assert [(one.stage, one.done, one.of) for one, _ in heard] == [
        ("serving", 1, 2),
        ("serving", 2, 2),
        ("sharing", 1, 3),
        ("sharing", 2, 3),
        ("sharing", 3, 3),
    ]


@pytest.mark.parametrize("seed", range(6))
def test_one_that_is_stopped_gives_what_it_has_and_claims_no_proof(seed):
    asked, packages = studio(Random(seed))

    def stop(_):
        raise Stop

    found = allot(asked, packages, deadline_s=20, told=stop)
    assert check_allotment(asked, packages, found) == ()
    solved = {report.way for report in found.reports}
    assert "solver" not in solved
    assert found.stopped == ("fallback" in solved or not found.served_proven)


@pytest.mark.parametrize("seed", range(6))
def test_with_no_time_at_all_it_is_packed(seed):
    asked, packages = studio(Random(seed))
    found = allot(asked, packages, deadline_s=0)
    assert check_allotment(asked, packages, found) == ()


@pytest.mark.parametrize("seed", range(12))
def test_without_the_solver_our_own_packing_says_so_and_holds(seed, monkeypatch):
    monkeypatch.setitem(sys.modules, "highspy", None)
    asked, packages = studio(Random(seed), most=50)
    found = allot(asked, packages, deadline_s=20)
    assert check_allotment(asked, packages, found) == ()
    if any(report.way == "fallback" for report in found.reports):
        assert found.fallback == "The solver is not installed."
        assert not found.lots_proven


def test_a_solver_that_fails_is_done_without(monkeypatch):
    def fails(*_, **__):
        from stash.calc.allot.program import NoSolver

        raise NoSolver("The solver could not go on: unknown.")

    monkeypatch.setattr(Program, "solve", fails)
    found = allot(*CONTESTED, deadline_s=20)
    assert found.fallback == "The solver could not go on: unknown."
    assert found.served == (1, 2)
    assert check_allotment(*CONTESTED, found) == ()


def test_what_does_not_bear_a_second_look_is_not_given(monkeypatch):
    """Ends too many by one in all that the solver finds: our own packing takes its place, and says why."""
    from stash.calc.allot import exact

    lines = exact._Amounts.lines

    def spoilt(self):
        return [replace(line, ends=line.ends + 1) if line.ends else line for line in lines(self)]

    monkeypatch.setattr(exact._Amounts, "lines", spoilt)
    found = allot(*CONTESTED, deadline_s=20)
    assert found.fallback == "What the solver found did not bear a second look."
    assert check_allotment(*CONTESTED, found) == ()


def test_where_our_own_packing_does_not_bear_a_second_look_either_each_keeps_what_he_holds(monkeypatch):
    from stash.calc.allot import allotting

    monkeypatch.setattr(allotting, "check_allotment", lambda *_: ("It is wrong.",))
    line = Line(1, "warp", 5, 50 * YD, 50_000)
    asked, packages = [asks(1, ends=5, held=(line,)), asks(2, ends=4, wish="lot", lot=20)], CONTESTED[1]
    found = allot(asked, packages, deadline_s=20)
    assert found.fallback == allotting.NOTHING_NEW
    assert [share.lines for share in found.shares] == [(line,), ()]
    assert not found.served and not found.served_proven
    assert check_allotment(asked, packages, found) == ()
