"""Today: what the shelf cannot cover, what is low, what a weigh-in has undercut."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from projects.services.reserving import reserve_project
from stash.services.weighing import weigh
from tests.factories import make_cone, make_shade
from tests.projects.factories import make_project


def today(client):
    return client.get(reverse("today"))


def test_an_empty_studio_offers_the_first_step(as_owner):
    assert reverse("yarn-new") in today(as_owner).content.decode()


def test_when_all_is_covered_it_says_so(as_viewer, owner):
    make_cone(make_shade("Spruce"), grams=500, by=owner)
    make_project({"A": make_shade("Oat")}, "Put away").delete()
    assert "Nothing wants a hand" in today(as_viewer).content.decode()


def test_a_project_that_cannot_be_wound_stands_first_with_its_days(as_viewer):
    day = timezone.localdate() + timedelta(days=3)
    make_project({"A": make_shade("Oat")}, "Oat mats", need_on=day)
    text = today(as_viewer).content.decode()
    assert "Oat mats" in text and "To be wound in 3 days." in text
    assert "1 thing wants a hand." in text


def test_a_winding_day_that_is_past_is_said(as_viewer):
    make_project({"A": make_shade("Oat")}, need_on=timezone.localdate() - timedelta(days=1))
    assert "The winding day is past." in today(as_viewer).content.decode()


@pytest.mark.parametrize(("keep", "listed"), [(501_000, True), (500_000, True), (499_000, False)])
def test_a_shade_at_or_below_its_keep_level_is_listed(as_viewer, owner, keep, listed):
    make_cone(make_shade("Spruce", keep_mg=keep), grams=500, by=owner)
    assert ("At or below keep level" in today(as_viewer).content.decode()) is listed


def test_reserved_yarn_is_not_there_to_keep(as_viewer, owner):
    shade = make_shade("Spruce", keep_mg=498_000)
    make_cone(shade, grams=500, by=owner)
    assert "At or below keep level" not in today(as_viewer).content.decode()
    reserve_project(pk=make_project({"A": shade}).pk)
    assert "At or below keep level" in today(as_viewer).content.decode()


def test_a_reservation_that_a_weigh_in_undercut_is_named_with_its_claim(as_viewer, owner):
    shade = make_shade("Spruce")
    cone = make_cone(shade, grams=5, by=owner)
    reserve_project(pk=make_project({"A": shade}).pk)
    weigh(cone_id=cone.pk, scale_mg=1_000, gross=False, by=owner)
    text = today(as_viewer).content.decode()
    assert "Undercut by a weigh-in" in text
    assert cone.code in text and "Plain mats" in text


def test_what_is_covered_and_has_a_day_comes_next(as_viewer, owner):
    shade = make_shade("Spruce")
    make_cone(shade, grams=500, by=owner)
    make_project({"A": shade}, need_on=timezone.localdate() + timedelta(days=9))
    text = today(as_viewer).content.decode()
    assert "To be wound next" in text and "Plain mats" in text


def test_what_is_low_beyond_the_first_stands_on_the_yarn_page_and_nothing_else(as_viewer, studio):
    for number in range(13):
        make_shade(f"Low {number}", keep_mg=1_000)
    make_shade("Plenty")
    page = today(as_viewer).content.decode()
    (href,) = re.findall(r'And 1 more on the <a href="([^"]+)"', page)
    listed = as_viewer.get(href).content.decode()
    assert "Low 12" in listed and "Plenty" not in listed
