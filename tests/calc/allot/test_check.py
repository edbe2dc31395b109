"""The second look finds what is wrong: allotments that hold, spoilt one way each. All figures invented."""

from dataclasses import replace

import pytest

from stash.calc.allot import allot, check_allotment
from stash.calc.packing import Line
from tests.calc.allot.shelves import asks, package
from tests.calc.plans import YD

pytestmark = pytest.mark.once

ASKED = [
    asks(1, ends=4, piece=10, pieces=2, keep_back=1),
    asks(2, ends=3, wish="lot", lot=20),
    asks(3, ends=50, held=(Line(3, "warp", 1, 10 * YD, 10_000),)),
    asks(4, ends=1, fixed=True, held=(Line(3, "warp", 2, 20 * YD, 20_000),)),
]
SHELF = [package(1, 85, lot=10), package(2, 60, lot=20), package(3, 30, lot=10)]
FOUND = allot(ASKED, SHELF, deadline_s=20)


def spoilt(project, change, **of_project):
    """The allotment with the share of one project changed."""
    projects = tuple(
        replace(one, shades=tuple(map(change, one.shades)), **of_project)
        if one.project_id == project
        else one
        for one in FOUND.projects
    )
    return replace(FOUND, projects=projects)


def words(found, **options):
    return " ".join(fault.words for fault in check_allotment(ASKED, SHELF, found, **options))


def with_lines(*lines):
    return lambda share: replace(share, lines=lines)


def warp(cone, ends):
    return Line(cone, "warp", ends, ends * 10 * YD, ends * 10_000)


def test_the_whole_one_has_no_fault():
    assert [one.standing for one in FOUND.projects] == ["served", "served", "short", "fixed"]
    assert words(FOUND) == ""


def test_too_few_ends():
    assert "ends are not those" in words(spoilt(2, with_lines(warp(2, 2))))


def test_half_an_end():
    half = Line(2, "warp", 3, 25 * YD, 25_000)
    assert "whole ends" in words(spoilt(2, with_lines(half)))


def test_another_lot_than_is_wished_for():
    assert "lot that is wished for" in words(spoilt(2, with_lines(warp(3, 3))))


def test_a_cone_of_another_shade():
    assert "not one of this shade" in words(spoilt(2, with_lines(warp(9, 3))))


def test_a_mass_that_is_not_that_of_the_length():
    assert "do not agree" in words(spoilt(2, with_lines(replace(warp(2, 3), mass_mg=1))))


def test_a_lot_change_inside_a_piece():
    lines = (warp(1, 4), Line(1, "weft", 0, 15 * YD, 15_000), Line(2, "weft", 0, 5 * YD, 5_000))
    change = spoilt(1, lambda share: replace(share, lines=lines, weft_lots=(10, 20)))
    assert "whole pieces" in words(change)


def test_lots_that_are_not_counted():
    assert "not counted" in words(spoilt(2, lambda share: replace(share, warp_lots=(20, 10))))


def test_a_cone_asked_for_more_than_it_has():
    small = [SHELF[0], package(2, 29, lot=20), SHELF[2]]
    assert "29000 mg are free" in " ".join(fault.words for fault in check_allotment(ASKED, small, FOUND))


def test_knots_that_others_would_take():
    both = [asks(1, ends=4, keep_back=1), asks(2, ends=1)]
    found = allot(both, [package(1, 60)], deadline_s=20)
    assert check_allotment(both, [package(1, 60)], found) == ()
    faults = check_allotment(both, [package(1, 59)], found)
    assert [fault.cone_id for fault in faults] == [1]
    assert "knots" in faults[0].words


def test_something_new_for_one_who_is_not_served():
    assert "something new" in words(spoilt(3, with_lines(warp(3, 1), warp(1, 1))))


def test_yarn_of_one_begun_moves():
    assert "would move" in words(spoilt(4, with_lines(warp(2, 2))))
    assert "stays as it is" in words(spoilt(4, lambda share: share, standing="served"))


def test_a_project_that_is_left_out():
    assert "answered once" in words(replace(FOUND, projects=FOUND.projects[1:]))


def test_one_who_accepts_alone_needs_what_others_still_hold():
    asked = [asks(1, ends=5), asks(2, ends=5, held=(warp(1, 3),))]
    shelf = [package(1, 60, lot=10), package(2, 50, lot=20)]
    found = allot(asked, shelf, deadline_s=20)
    assert found.served == (1, 2)
    of_first = {line.cone_id for line in found.projects[0].shades[0].lines}
    faults = check_allotment(asked, shelf, found, only={1})
    assert bool(faults) == (of_first == {1})
    assert check_allotment(asked, shelf, found) == ()
