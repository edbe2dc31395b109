"""No page asks more of the database when there are more rows: shades, cones, lots, holders, projects, entries.

Every page begins with the studio, the session and the person (3). What it asks beyond that stands beside its test.
"""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from projects.buying.last_days import last_order_days
from projects.models import Project
from projects.services.reserving import reserve_project
from stash.calc.colour_order import read_order
from stash.models import Cone, Reservation
from stash.services.weighing import weigh
from tests.factories import make_cone, make_shade, make_yarn
from tests.projects.factories import make_project, plain_plan

pytestmark = pytest.mark.django_db

COMMON = 3


def queries(client, address) -> list[str]:
    client.get(address)  # what is asked once and then known, such as content types, is no business of ours
    with CaptureQueriesContext(connection) as caught:
        assert client.get(address).status_code == 200
    return [query["sql"] for query in caught.captured_queries]


def project_of(count: int, owner, name: str, pieces: int = 3) -> Project:
    """So many shades of a yarn each, on two cones of two lots; enough for 3 pieces, far from enough for 300."""
    shades = {}
    for number in range(count):
        key = "ABCDEFGH"[number]
        shade = make_shade(f"{name} {key}", yarn=make_yarn(f"{name} yarn {key}"), keep_mg=900_000)
        for lot in ("L1", "L2"):
            make_cone(
                shade,
                grams=10,
                lot=lot,
                place=f"Shelf {key}",
                code=f"{name[:2]}{name[-1]}-{key}{lot}",
                by=owner,
            )
        shades[key] = shade
    order = read_order(", ".join(f"{1 + at} {key}" for at, key in enumerate(shades)))
    plan = plain_plan(order=order, pieces=pieces)
    return make_project(shades, name=name, plan=plan, need_on=timezone.localdate() + timedelta(days=3))


@pytest.fixture
def two(owner):
    return project_of(2, owner, "Two")


@pytest.fixture
def four(owner):
    """Twice the shades, cones, lots and yarns, held by itself and by two others."""
    project = project_of(4, owner, "Four")
    shades = {row.key: row.shade for row in project.shades.select_related("shade")}
    for number in range(2):
        other = make_project(shades, name=f"Before {number}", plan=project.plan)
        Project.objects.filter(pk=other.pk).update(pieces=1)
        reserve_project(pk=other.pk)
    return project


def test_a_projects_page_asks_the_same_for_twice_the_shades(as_owner, two, four):
    """The project; its shades with their yarns; their cones with lots; what is reserved and on order of them; looms,
    reeds and what wants them; its trials; its notes and photos; the fairs that it may be for. What finished projects
    took, which yarns were measured and what stocktakes found, which says how sure it is."""
    counts = [len(queries(as_owner, reverse("project-page", args=[one.pk]))) for one in (two, four)]
    assert counts == [COMMON + 14] * 2


def test_a_projects_page_asks_the_same_for_twice_the_yarn_put_aside(as_owner, two, four):
    """As above, and: its reservations with their cones; its shortages; what it used so far, by its claim."""
    for project in (two, four):
        reserve_project(pk=project.pk)
    assert len(set(Reservation.objects.values_list("claim", flat=True))) > 1
    counts = [len(queries(as_owner, reverse("project-page", args=[one.pk]))) for one in (two, four)]
    assert counts == [COMMON + 17] * 2


def test_a_sheet_asks_the_same_for_twice_the_shades(as_owner, two, four):
    """As the project's page."""
    for project in (two, four):
        reserve_project(pk=project.pk)
    counts = [len(queries(as_owner, reverse("project-sheet", args=[one.pk]))) for one in (two, four)]
    assert counts == [COMMON + 10] * 2


def test_the_list_asks_the_same_for_twice_the_projects(as_owner, owner):
    """How many there are; the page of them; their shades; the cones; what is their own of those."""
    counts = []
    for name in ("One", "Two"):
        reserve_project(pk=project_of(2, owner, name).pk)
        counts.append(len(queries(as_owner, reverse("projects"))))
    assert counts == [COMMON + 5] * 2


def test_today_asks_the_same_for_twice_of_everything(as_owner, owner):
    """Projects, their shades, the cones, what is their own of those; cones that were undercut and whom they are
    for; shades below their keep level; whether there is any shade. What is lent out and due; orders on their way; the next
    fair. And what the last days to order ask, whose own test counts it."""
    counts = []
    for name in ("One", "Two"):
        reserve_project(pk=project_of(2, owner, name).pk)
        project_of(2, owner, f"Later {name}", pieces=300)
        cone = Cone.objects.filter(reserved_mg__gt=0).order_by("-pk")[0]
        weigh(cone_id=cone.pk, scale_mg=cone.reserved_mg // 2, gross=False, by=owner)
        page = as_owner.get(reverse("today"))
        assert page.context["wanting"] and page.context["undercut"] and page.context["low"]
        with CaptureQueriesContext(connection) as ordering:
            last_order_days(timezone.localdate())
        counts.append(len(queries(as_owner, reverse("today"))) - len(ordering))
    assert counts == [COMMON + 11] * 2


@pytest.mark.parametrize("name", ["today", "projects", "yarn", "project-page", "project-sheet"])
def test_no_page_reads_the_ledger_but_for_what_one_claim_used(as_owner, two, name):
    """Entries are found by their claim, by its index: what others weighed costs nothing. Today asks for the key of the
    newest besides: while that is the same, what is usually used is known."""
    reserve_project(pk=two.pk)
    address = reverse(name, args=[two.pk] if name.startswith("project-") else [])
    newest = 'FROM "stash_entry" ORDER BY 1 DESC LIMIT 1'
    read = [sql for sql in queries(as_owner, address) if "stash_entry" in sql and newest not in sql]
    assert not [sql for sql in read if '"claim_id"' not in sql]
