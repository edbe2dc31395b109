"""The last day to order for the job that wants it."""

from datetime import date

import pytest
from django.utils import timezone
from django.utils.formats import date_format

from projects.buying.last_days import last_order_days
from projects.buying.proposals import buying_page
from projects.days import ordered_by
from projects.models import Project
from projects.services.reserving import reserve_project
from projects.shade_ahead import shade_ahead
from stash.calc.writing import Measures
from stash.models import Studio
from stash.site.calendar.soon import ordering_soon
from tests.factories import make_cone, make_order
from tests.projects.buying.shelf import a_shade, in_days, job, seller, sold
from tests.projects.shortages import yard_yarn

pytestmark = pytest.mark.django_db


def today():
    return timezone.localdate()


def test_it_is_the_winding_day_less_lead_time_and_usual_delay(owner):
    shade = a_shade()
    make_cone(shade, grams=15, by=owner)
    project = job(shade)
    sold(shade, seller())
    (found,) = last_order_days(today())
    assert found.day == in_days(60 - 18 - 7) and found.on == in_days(60) and found.late_days == 0
    assert (found.shade_name, found.project_id, found.supplier_name) == ("Slate", project.pk, "Example Yarns")


def test_what_is_over_says_by_how_much(owner):
    shade = a_shade()
    job(shade, days=19)
    sold(shade, seller())
    (found,) = last_order_days(today())
    assert found.day == in_days(-6) and found.late_days == 6


def test_a_winding_day_at_the_beginning_of_all_calendars_takes_no_page_down(as_viewer):
    """Kept before the year of a plan's day was looked at."""
    shade = a_shade()
    project = job(shade)
    Project.objects.update(need_on=date(1, 1, 2))
    sold(shade, seller())
    (found,) = last_order_days(today())
    assert found.day == date.min
    for there in ("/", "/buying/", "/calendar/", f"/projects/{project.pk}/"):
        assert as_viewer.get(there).status_code == 200


def test_a_supplier_whose_time_nobody_knows_has_no_last_day(owner):
    shade = a_shade()
    job(shade)
    sold(shade, seller(lead_days=None, late_days=0))
    (found,) = last_order_days(today())
    assert found.day is None and found.supplier_name == "Example Yarns"


def test_what_nobody_sells_and_what_is_no_more_made_stand_there_too(owner):
    unsold, over = a_shade("Unsold"), a_shade("Over")
    job(unsold, "One")
    job(over, "Two")
    over.no_more_on = today()
    over.save()
    sold(over, seller(), of_shade=True)
    found = {one.shade_name: one for one in last_order_days(today())}
    assert found["Unsold"].supplier_id is None and not found["Unsold"].no_more
    assert found["Over"].supplier_id is None and found["Over"].no_more


def test_nothing_is_asked_of_what_is_there_reserved_or_due_in_time(owner):
    there, held, due = a_shade("There"), a_shade("Held"), a_shade("Due")
    make_cone(there, grams=40, by=owner)
    make_cone(held, grams=40, by=owner)
    for shade in (there, held, due):
        job(shade, f"Of {shade.name}")
        sold(shade, seller(f"Seller of {shade.name}"), of_shade=True)
    reserve_project(pk=held.project_shades.get().project_id)
    make_order(due, 1, 50, by=owner)
    assert last_order_days(today()) == []


def test_an_order_being_written_keeps_its_day_until_it_is_sent(owner):
    shade = a_shade()
    project = job(shade)
    supplier = seller()
    sold(shade, supplier)
    order = make_order(shade, 1, 50, supplier=supplier, by=owner, sent=False)
    (found,) = last_order_days(today())
    assert found.order_id == order.pk and found.day == in_days(35) and found.project_id == project.pk


def test_animal_fibre_is_ordered_sooner_by_its_quarantine(owner):
    shade = a_shade(yarn=yard_yarn("Yard wool", fibres={"wool": 100}))
    job(shade)
    sold(shade, seller())
    (found,) = last_order_days(today())
    assert found.day == in_days(60 - 25 - 14)


def test_each_project_that_goes_short_of_a_shade_has_a_last_day_of_its_own(owner):
    shade = a_shade()
    first, second = job(shade, "First", days=60), job(shade, "Second", days=90)
    sold(shade, seller())
    found = last_order_days(today())
    assert [(one.project_id, one.day) for one in found] == [
        (first.pk, in_days(35)),
        (second.pk, in_days(65)),
    ]
    assert [one.on for one in ordering_soon(found, in_days(30))] == [in_days(35)]
    assert [one.title for one in ordered_by(found, today())] == [
        "Order Slate for First",
        "Order Slate for Second",
    ]


def test_it_is_the_day_that_buying_says_where_a_level_settles_of_whom_all_is_bought(owner):
    """Alone the shade is cheapest of Near; what another shade's level asks for is bought of Far, where it then costs
    no carriage."""
    shade, level = a_shade(), a_shade("Level", yarn=yard_yarn("B yarn"), keep_mg=10_000)
    job(shade)
    near = seller("Near", lead_days=10, carriage_cents=500)
    far = seller("Far", lead_days=20, carriage_cents=500)
    sold(shade, near, price=500)
    sold(shade, far, price=600)
    sold(level, far, price=500)
    (line,) = [
        line
        for order in buying_page(today(), Studio.objects.get(), Measures()).proposed
        for line in order.lines
        if line.shade == shade
    ]
    (found,) = last_order_days(today())
    assert (found.supplier_name, found.day) == ("Far", line.order_by) == ("Far", in_days(60 - 27))
    said = shade_ahead(shade, Studio.objects.get(), Measures(), today=today()).decides[0]
    assert date_format(in_days(60 - 27), "j F") in said
