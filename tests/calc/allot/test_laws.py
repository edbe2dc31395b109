"""What holds for every allotment, on small studios by chance. All figures invented."""

from dataclasses import replace
from random import Random

import pytest

from stash.calc.allot import allot, check_allotment
from tests.calc.allot.studios import studio

pytestmark = pytest.mark.once


def allotted(asked, packages):
    return allot(asked, packages, deadline_s=20)


@pytest.mark.parametrize("seed", range(40))
def test_every_allotment_bears_a_second_look_and_says_whom_it_serves(seed):
    asked, packages = studio(Random(seed))
    found = allotted(asked, packages)
    assert check_allotment(asked, packages, found) == ()
    assert found.served_proven and found.lots_proven and not found.stopped and not found.fallback
    for project in found.projects:
        assert (project.standing == "short") == bool(project.lacking)
    for report in found.reports:
        assert report.stub_least_mg <= report.stub_mg
        assert report.opened_least <= report.opened


@pytest.mark.parametrize("seed", range(12))
def test_the_order_of_what_is_asked_and_of_the_cones_does_not_matter(seed):
    chance = Random(seed)
    asked, packages = studio(chance)
    found = allotted(asked, packages)
    chance.shuffle(asked)
    chance.shuffle(packages)
    again = allotted(asked, packages)
    assert again.projects == found.projects
    assert again.reports == found.reports


@pytest.mark.parametrize("seed", range(20))
def test_more_stock_never_serves_less(seed):
    """By the order in which they are served: where the two differ first, the one with more serves."""
    chance = Random(seed)
    asked, packages = studio(chance, held=False)
    at = chance.randrange(len(packages))
    more = list(packages)
    more[at] = replace(more[at], free_mg=more[at].free_mg + 1000 * chance.randint(1, 30))
    before = [project.standing == "served" for project in allotted(asked, packages).projects]
    after = [project.standing == "served" for project in allotted(asked, more).projects]
    assert after >= before


@pytest.mark.parametrize("seed", range(12))
def test_what_is_held_by_those_begun_never_moves(seed):
    asked, packages = studio(Random(100 + seed))
    found = allotted(asked, packages)
    fixed = {one.key: one.held for one in asked if one.fixed}
    for share in found.shares:
        if share.id in fixed:
            assert share.lines == fixed[share.id]
            assert not share.changed


def test_where_nobody_contests_each_gets_what_he_would_reserve_alone():
    """Each project on shades of its own; one end wound at a time, since what is wound at once is spread."""
    compared = 0
    for seed in range(40):
        asked, packages = studio(Random(seed), projects=1, shades=3, most=200, held=False)
        asked = [replace(one, at_once=1) for one in asked]
        found = allotted(asked, packages)
        assert not found.served or {report.way for report in found.reports} == {"proposals"}
        for one in asked if found.served else []:
            alone = one.proposed(cone.less(0) for cone in packages if cone.shade_id == one.shade_id)
            share = next(share for share in found.shares if share.id == one.key)
            assert (share.lines, share.buffered) == (alone.lines, alone.buffered)
            compared += 1
    assert compared > 40


@pytest.mark.parametrize("seed", range(8))
def test_who_is_served_does_not_depend_on_what_is_held_now(seed):
    asked, packages = studio(Random(200 + seed))
    asked = [replace(one, fixed=False) for one in asked]
    bare = [replace(one, held=()) for one in asked]
    assert allotted(asked, packages).served == allotted(bare, packages).served
