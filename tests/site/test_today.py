"""Today: what the shelf cannot cover, what is low, what a weigh-in has undercut, and which days are near."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from projects.models import Fair, Project, Stage
from projects.services.reserving import reserve_project
from projects.services.stages import set_stage
from stash.models import Order, PutUp
from stash.services.weighing import weigh
from tests.factories import make_cone, make_order, make_shade, make_supplier, make_yarn
from tests.projects.factories import make_project
from tests.stash.reading import Read


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


# --- Days ahead -------------------------------------------------------------------------------------------


def ahead(days):
    return timezone.localdate() + timedelta(days=days)


@pytest.mark.parametrize(
    ("wound_in", "says"), [(45, "Order by"), (51, None), (20, "The last day to order is past.")]
)
def test_what_must_be_ordered_within_four_weeks_is_said_with_its_day(as_viewer, wound_in, says):
    """Of a supplier who takes 18 days and is usually 4 late: 22 days before the winding day."""
    shade = make_shade("Oat")
    supplier = make_supplier("Slow post", lead_days=18, late_days=4)
    PutUp.objects.create(supplier=supplier, yarn=shade.yarn, mass_mg=454_000)
    make_project({"A": shade}, "Oat mats", need_on=ahead(wound_in))
    text = today(as_viewer).content.decode()
    assert ("Order Oat for Oat mats" in text) is (says is not None)
    assert says is None or says in text


@pytest.mark.parametrize(("due", "listed"), [(-40, True), (0, True), (14, True), (15, False)])
def test_parcels_that_are_due_soon_or_late_are_listed(as_viewer, owner, due, listed):
    order = make_order(make_shade("Oat"), by=owner)
    Order.objects.update(ordered_on=ahead(-60), due_on=ahead(due), late_days=5)
    page = today(as_viewer)
    assert (f"Order {order.pk} from" in page.content.decode()) is listed
    assert page.context["nothing"] is (due > -40)


def test_the_next_fair_says_what_must_start_when(as_viewer, owner):
    fair = Fair.objects.create(name="Spring fair", begins_on=ahead(40), made_at=timezone.now())
    Fair.objects.create(name="Autumn fair", begins_on=ahead(140), made_at=timezone.now())
    shade = make_shade("Spruce")
    make_cone(shade, grams=900, by=owner)
    project = make_project({"A": shade}, "Oat mats", need_on=ahead(9))
    Project.objects.update(fair=fair, off_on=ahead(36))
    make_project({"A": shade}, "Not for it", need_on=ahead(9))
    text = Read(today(as_viewer)).text
    assert "Spring fair In 40 days; all is to be ready by" in text and "Autumn fair" not in text
    assert "Oat mats , to be wound on" in text
    assert "It comes off the loom 3 days after the day to be ready." in text
    # It has its winding day there, so it stands in no second list; the other one does.
    assert text.count("Oat mats") == 1 and text.count("Not for it") == 1
    set_stage(pk=project.pk, stage=Stage.FINISHED, by=owner)
    assert "1 project is ready." in Read(today(as_viewer)).text


def test_a_fair_that_is_far_off_is_not_spoken_of(as_viewer):
    Fair.objects.create(name="Spring fair", begins_on=ahead(200), made_at=timezone.now())
    assert "Spring fair" not in today(as_viewer).content.decode()


def test_twice_the_days_ask_the_database_no_more(as_viewer, owner):
    def asked():
        with CaptureQueriesContext(connection) as caught:
            assert today(as_viewer).status_code == 200
        return len(caught)

    supplier = make_supplier(lead_days=18)

    def more(name):
        shade = make_shade(name, yarn=make_yarn(name))
        PutUp.objects.create(supplier=supplier, yarn=shade.yarn, mass_mg=454_000)
        make_order(make_shade(f"{name} due"), by=owner, supplier=supplier)
        make_project({"A": shade}, name, need_on=ahead(30))
        Fair.objects.create(name=name, begins_on=ahead(60), made_at=timezone.now())
        Project.objects.update(fair=Fair.objects.first(), off_on=ahead(50))
        Order.objects.update(due_on=ahead(3))

    more("One")
    asked()
    few = asked()
    for name in ("Two", "Three", "Four"):
        more(name)
    assert asked() == few
