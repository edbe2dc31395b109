"""Kits of a class: what goes into each adds up to what is put aside for all."""

import pytest
from django.urls import reverse

from projects.kits import kits_of
from projects.services.planning import Kits
from stash.calc.needs import work_out
from tests.factories import make_cone, make_shade
from tests.projects.factories import make_project
from tests.projects.sharing.plans import full_plan
from tests.projects.test_query_budgets import queries

pytestmark = pytest.mark.django_db


@pytest.fixture
def project(owner):
    shades = {key: make_shade(name) for key, name in (("A", "Spruce"), ("B", "Flax"), ("C", "Ember"))}
    for shade in shades.values():
        make_cone(shade, grams=800, by=owner)
    return make_project(
        shades,
        name="Class sampler",
        plan=full_plan(),
        loss_way="split",
        kits=Kits(7, 1, 1),
        piece_name="samplers",
    )


def sheet(client, project):
    return client.get(reverse("project-kits", args=[project.pk]))


def test_what_goes_into_each_kit_times_the_kits_is_what_all_need(as_viewer, project):
    found = sheet(as_viewer, project).context["sheet"]
    needs = {need.key: need for need in work_out(project.plan).needs}
    assert len(found.kits) == 9 and len(found.shades) == 3
    for one in found.shades:
        need = needs[one.row.line.key]
        assert 9 * one.ends == need.ends
        assert 9 * one.weft_um == need.weft_buffered_um
        assert one.warp_um == need.warp_um
    assert 9 * found.ends == sum(need.ends for need in needs.values())


def test_students_come_first_then_who_shows_then_what_is_spare(project):
    assert [kit.whose for kit in kits_of(project)] == ["student"] * 7 + ["demonstration", "spare"]
    assert [kit.number for kit in kits_of(project)] == list(range(1, 10))


def test_the_sheet_says_what_all_come_to_against_the_shelf(as_viewer, project):
    text = sheet(as_viewer, project).content.decode()
    assert "9 kits: 7 for students, 1 to show with, 1 to spare." in text
    assert "All 9 kits against the shelf" in text
    assert text.count('class="name"') == 9
    assert "Spruce, Plain cotton" in text


def test_a_plan_of_one_warp_has_no_kit_sheet_and_no_way_to_it(as_viewer, owner):
    project = make_project({"A": make_shade("Spruce")})
    answer = as_viewer.get(reverse("project-kits", args=[project.pk]), follow=True)
    assert "This plan is of one warp." in answer.content.decode()
    assert reverse("project-kits", args=[project.pk]) not in answer.content.decode()


def test_the_project_leads_to_its_kit_sheet(as_viewer, project):
    page = as_viewer.get(reverse("project-page", args=[project.pk])).content.decode()
    assert reverse("project-kits", args=[project.pk]) in page


def test_twice_the_kits_cost_no_more_queries(as_viewer, project):
    address = reverse("project-kits", args=[project.pk])
    before = len(queries(as_viewer, address))
    type(project).objects.update(kit_students=60)
    assert len(queries(as_viewer, address)) == before
