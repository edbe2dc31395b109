"""What the shelf holds for a project: on hand less what others have reserved, in two queries."""

from collections.abc import Collection

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from projects.judging import judge_all
from projects.models import Project
from projects.services.reserving import reserve_project
from projects.stock import ShelfReader, held_by
from stash.calc.packing import ConeStock
from stash.models import Cone
from stash.services.cones import retire_cone
from stash.services.reserving import Wanted, reserve
from stash.services.weighing import weigh
from tests.factories import ClaimFactory, make_cone, make_shade
from tests.projects.plans import plan_for

pytestmark = pytest.mark.django_db


@pytest.fixture
def spruce():
    return make_shade("Spruce")


def free_for(project: Project) -> list[int]:
    project.refresh_from_db()
    return [cone.free_mg for cone in shelf_of(project)["A"]]


def shelf_of(project: Project, only: Collection[int] | None = None) -> dict[str, list[ConeStock]]:
    """By key, what the shelf holds for a project."""
    rows = list(project.shades.all())
    reader = ShelfReader([row.shade_id for row in rows], held_by([project.claim_id]), only=only)
    return {row.key: reader.of_shade(row.shade_id, project.claim_id) for row in rows}


def weft(cone: Cone, mass_mg: int) -> Wanted:
    return Wanted(cone.pk, "weft", 0, mass_mg, mass_mg)


def test_others_reservations_are_not_free_and_ones_own_are(spruce):
    cone = make_cone(spruce, grams=500)
    mine, theirs = plan_for(spruce), plan_for(spruce, name="Second mats")
    reserve(claim_id=ClaimFactory().pk, wanted=[weft(cone, 100_000)])
    assert free_for(mine) == [400_000]
    reserve_project(pk=mine.pk)
    cone.refresh_from_db()
    assert free_for(mine) == [400_000]
    assert free_for(theirs) == [cone.free_mg] == [500_000 - cone.reserved_mg]


def test_an_undercut_cone_is_free_by_what_others_leave_and_never_below_nothing(spruce, owner):
    """300 g, 100 g promised to another, the rest to this project; then the scale says 150 g, then 50 g."""
    cone = make_cone(spruce, grams=300, by=owner)
    project = plan_for(spruce)
    reserve(claim_id=ClaimFactory().pk, wanted=[weft(cone, 100_000)])
    reserve_project(pk=project.pk)
    weigh(cone_id=cone.pk, scale_mg=150_000, gross=False, by=owner)
    assert free_for(project) == [50_000]
    weigh(cone_id=cone.pk, scale_mg=50_000, gross=False, by=owner)
    assert free_for(project) == [0]


def test_cones_come_in_the_order_of_their_keys_with_their_lots_and_without_retired_ones(spruce, owner):
    cones = [make_cone(spruce, grams=100, lot=lot, by=owner) for lot in ("A1", "", "B2")]
    gone = make_cone(spruce, by=owner)
    retire_cone(pk=gone.pk, by=owner, reason="sold")
    make_cone(make_shade("Rust", yarn=spruce.yarn), by=owner)
    project = plan_for(spruce)
    assert shelf_of(project) == {"A": [ConeStock(cone.pk, cone.lot_id, 100_000) for cone in cones]}
    only = shelf_of(project, only={cones[1].pk, gone.pk})
    assert [cone.id for cone in only["A"]] == [cones[1].pk]
    assert shelf_of(project, only=[]) == {"A": []}


def test_a_shade_is_read_only_when_asked_for(spruce):
    rust = make_shade("Rust", yarn=spruce.yarn)
    cone = make_cone(rust, grams=200)
    assert ShelfReader([]).of_shade(rust.pk, None) == []
    assert ShelfReader([rust.pk]).of_shade(rust.pk, None) == [ConeStock(cone.pk, None, 200_000)]


def test_many_projects_are_read_in_as_many_queries_as_one(spruce):
    counts = []
    for number in range(3):
        for cone in range(2):
            make_cone(spruce, grams=200, code=f"{number}-{cone}")
        reserve_project(pk=plan_for(spruce, name=f"Mats {number}").pk)
        with CaptureQueriesContext(connection) as queries:
            judge_all(Project.objects.all())
        counts.append(len(queries))
    # projects, their shades, cones, own reservations
    assert counts == [4, 4, 4]
