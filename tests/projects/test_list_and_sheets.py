"""The list with its one-line verdicts, the sheet to print, the cloth picture."""

from datetime import date
from io import BytesIO

import pytest
from django.urls import reverse
from PIL import Image

from tests.factories import make_cone, make_shade
from tests.projects.factories import make_project


@pytest.fixture
def spruce(owner):
    shade = make_shade("Spruce")
    make_cone(shade, grams=5, by=owner, lot="7")
    return shade


@pytest.fixture
def project(spruce):
    return make_project({"A": spruce}, occasion="the Heron market", note="Mind the <beat>.")


def test_the_list_says_every_verdict_in_a_line(as_viewer, project):
    make_project({"A": make_shade("Oat")}, "Oat mats")
    text = as_viewer.get(reverse("projects")).content.decode()
    assert "Enough, with the buffer." in text
    assert "Short of Oat by 10 warp ends and 10.0 yd of weft" in text


def test_who_needs_yarn_first_stands_first_and_without_a_day_last(as_viewer, spruce):
    make_project({"A": spruce}, "Later", need_on=date(2031, 5, 2))
    make_project({"A": spruce}, "Undated")
    make_project({"A": spruce}, "Sooner", need_on=date(2031, 5, 1))
    text = as_viewer.get(reverse("projects")).content.decode()
    assert text.index("Sooner") < text.index("Later") < text.index("Undated")


@pytest.mark.parametrize(
    "sort", ["name", "-name", "need_on", "-need_on", "pieces", "-pieces", "nonsense", "'"]
)
def test_any_sort_that_is_asked_for_is_answered(as_viewer, project, sort):
    assert as_viewer.get(reverse("projects"), {"sort": sort}).status_code == 200


@pytest.mark.parametrize("page", ["0", "-1", "99", "x", ""])
def test_a_page_that_is_not_there_shows_one_that_is(as_viewer, project, page):
    assert "Plain mats" in as_viewer.get(reverse("projects"), {"page": page}).content.decode()


def test_the_list_is_searched_by_name_and_occasion(as_viewer, project):
    assert "Plain mats" in as_viewer.get(reverse("projects"), {"q": "HERON"}).content.decode()
    text = as_viewer.get(reverse("projects"), {"q": "<b>"}).content.decode()
    assert "Plain mats" not in text and "&lt;b&gt;" in text


def test_an_empty_list_offers_the_first_step_to_those_who_may_take_it(client, owner, viewer):
    client.force_login(owner)
    assert reverse("project-new") in client.get(reverse("projects")).content.decode()
    client.force_login(viewer)
    assert reverse("project-new") not in client.get(reverse("projects")).content.decode()


def test_the_sheet_has_plan_figures_needs_and_what_is_put_aside(as_owner, project):
    as_owner.post(reverse("project-reserve", args=[project.pk]))
    text = as_owner.get(reverse("project-sheet", args=[project.pk])).content.decode()
    for part in (
        "Plain mats",
        "Need of every shade",
        "Put aside",
        "the Heron market",
        "Mind the &lt;beat&gt;.",
    ):
        assert part in text


def test_the_cloth_picture_is_a_png_in_the_shades_own_colour(as_viewer, project):
    answer = as_viewer.get(reverse("project-cloth", args=[project.pk]))
    assert answer["Content-Type"] == "image/png"
    picture = Image.open(BytesIO(answer.content)).convert("RGB")
    assert (0x2F, 0x5D, 0x50) in {colour for _, colour in picture.getcolors(100_000)}


def test_browsers_keep_the_picture_only_under_the_address_that_changes_with_the_plan(as_viewer, project):
    page = as_viewer.get(reverse("project-page", args=[project.pk]))
    kept = as_viewer.get(page.context["out"].cloth_src)
    assert "immutable" in kept["Cache-Control"]
    assert (
        as_viewer.get(reverse("project-cloth", args=[project.pk]), {"v": "old"})["Cache-Control"]
        == "no-cache"
    )


def test_a_small_picture_is_smaller(as_viewer, project):
    address = reverse("project-cloth", args=[project.pk])
    sizes = [
        Image.open(BytesIO(as_viewer.get(address, extra).content)).width for extra in ({}, {"small": "1"})
    ]
    assert sizes[1] < sizes[0]
