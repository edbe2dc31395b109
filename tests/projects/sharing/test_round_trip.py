"""A project written to a file, and opened again: nothing of its plan is lost, nothing of its studio comes along."""

import json
from datetime import date

import pytest

from projects.models import Project
from projects.services.opening import open_project
from projects.services.planning import Kits, recompute
from projects.services.reserving import reserve_project
from projects.sharing.matching import matched
from projects.sharing.reading import read_project_file
from projects.sharing.writing import project_file
from stash.calc.grist import Grist
from stash.models import Yarn
from tests.factories import make_cone, make_shade, make_yarn
from tests.projects.factories import make_project, plain_plan
from tests.projects.sharing.plans import full_plan

pytestmark = pytest.mark.django_db


@pytest.fixture
def shades(owner):
    found = {key: make_shade(name, colour=colour) for key, name, colour in (
        ("A", "Spruce", "#2f5d50"), ("B", "Flax", "#c8b583"), ("C", "Ember", ""),
    )}  # fmt: skip
    for shade in found.values():
        make_cone(shade, grams=5_000, by=owner)
    return found


@pytest.fixture
def full(shades):
    """Everything that a file can say."""
    project = make_project(
        shades,
        name="Class sampler",
        plan=full_plan(),
        structure="twill-2-2",
        loss_way="split",
        piece_name="samplers",
        note="Two lines,\nof which this is one.",
        kits=Kits(7, 1, 1),
    )
    Project.objects.filter(pk=project.pk).update(dressing="laced", sley="1-2", sley_keeps="width", at_once=3)
    project.refresh_from_db()
    return project


def opened_again(project: Project) -> Project:
    """As in another studio that has the same shades: the first has its name no more."""
    found = read_project_file(project_file(project))
    Project.objects.filter(pk=project.pk).update(name="as it was")
    shades = {one.wanted.key: one.same.pk for one in matched(found.shades) if one.same}
    return open_project(found=found, shades=shades, name=found.name)


def test_the_plan_read_from_a_file_is_the_plan_that_was_written(full):
    assert read_project_file(project_file(full)).plan == full.plan


def test_the_file_of_the_opened_project_is_the_file_of_the_first(full):
    written = project_file(full)
    assert project_file(opened_again(full)) == written


def test_the_opened_project_needs_of_each_shade_what_the_first_needs(full):
    again = opened_again(full)
    assert [(row.key, row.beam, row.warp_um, row.need()) for row in again.shades.all()] == [
        (row.key, row.beam, row.warp_um, row.need()) for row in full.shades.all()
    ]
    assert (again.ends, again.warp_um, again.warps) == (full.ends, full.warp_um, 9)
    assert not recompute(pk=again.pk)


def test_a_draft_typed_in_comes_along(shades):
    project = make_project(
        {"A": shades["A"]}, structure="draft", threading="1, 2, 3, 4", tie_up="1+2, 3+4", treadling="1, 2"
    )
    again = opened_again(project)
    assert (again.structure, again.threading, again.tie_up, again.treadling) == (
        "draft", project.threading, project.tie_up, project.treadling,
    )  # fmt: skip


def test_a_simple_plan_stays_simple(shades):
    project = make_project({"A": shades["A"]})
    again = opened_again(project)
    assert (again.loss_way, again.kit_students, again.warps) == ("simple", 0, 1)


def test_nothing_of_stock_people_or_history_is_in_the_file(full, owner):
    reserve_project(pk=full.pk)
    text = project_file(Project.objects.get(pk=full.pk))
    assert "K-0" not in text and owner.username not in text and "claim" not in text and "stage" not in text


def test_an_opened_project_is_planned_holds_nothing_and_reckons_with_the_yarns_of_today(full):
    reserve_project(pk=full.pk)
    Project.objects.filter(pk=full.pk).update(stage="weaving")
    written = project_file(Project.objects.get(pk=full.pk))
    Yarn.objects.update(grist_um=1_000_000, grist_mg=500)
    found = read_project_file(written)
    shades = {one.wanted.key: one.same.pk for one in matched(found.shades)}
    again = open_project(
        found=found, shades=shades, name="Again", occasion="a class", need_on=date(2027, 3, 1)
    )
    assert (again.stage, again.claim, again.occasion, again.need_on) == (
        "planned", None, "a class", date(2027, 3, 1),
    )  # fmt: skip
    assert all(
        row.frozen_um is None and not row.grist_moved for row in again.shades.select_related("shade__yarn")
    )


def test_the_file_says_the_yarns_present_figure_and_the_needs_stay_lengths(full):
    """A file that was frozen elsewhere would not match the yarn that it names."""
    reserve_project(pk=full.pk)
    Yarn.objects.update(grist_um=1_000_000, grist_mg=500)
    shade = json.loads(project_file(full))["shades"][0]
    assert shade["yarn"]["grist"] == [Grist(1_000_000, 500).length_um, Grist(1_000_000, 500).mass_mg]


def test_the_same_project_gives_the_same_bytes(full):
    assert project_file(full) == project_file(Project.objects.get(pk=full.pk))


def test_twice_the_shades_cost_no_more_queries(shades, django_assert_num_queries):
    """The rows, their fibres, and once more the rows for what is on which beam."""
    one = make_project({"A": shades["A"]}, name="One")
    three = make_project(shades, name="Three", plan=plain_plan(order=full_plan().order))
    for project in (Project.objects.get(pk=one.pk), Project.objects.get(pk=three.pk)):
        with django_assert_num_queries(3):
            project_file(project)


def test_a_key_without_a_shade_is_written_and_opened_as_open(full, shades):
    found = read_project_file(project_file(full))
    again = open_project(found=found, shades={"A": shades["A"].pk, "B": shades["B"].pk}, name="Open")
    assert again.open_keys == "C"
    once_more = read_project_file(project_file(again))
    assert [one.key for one in once_more.shades] == ["A", "B"]
    assert once_more.plan == full.plan


def test_a_shade_whose_yarn_has_no_count_and_no_fibre_is_described_by_its_length_per_weight(owner):
    yarn = make_yarn("Slub", count="", stated=Grist(1_000_000, 500))
    project = make_project({"A": make_shade("Ecru", yarn=yarn, colour="")})
    (one,) = read_project_file(project_file(project)).shades
    assert (one.count, dict(one.fibres), one.grist, one.colour) == ("", {}, yarn.grist, "")
