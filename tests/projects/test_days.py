"""The studio's days: what falls on which, when it is late, and when it is over."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from projects.buying.last_days import last_order_days
from projects.days import (
    all_days,
    arrivals,
    days_off,
    earliest_by_project,
    fair_days,
    loans,
    order_days,
    quarantines,
    some,
    winding_days,
)
from projects.models import Project, Stage
from projects.services.fairs import set_fair
from projects.services.planning import put_away
from projects.services.reserving import reserve_project
from projects.services.stages import set_stage, wind_warp
from stash.models import Cone, Loom, Order, PutUp, Shade
from stash.services.changing import set_condition
from tests.factories import make_cone, make_order, make_shade, make_supplier, make_yarn
from tests.projects.factories import make_project
from tests.projects.test_fairs import make_fair

pytestmark = pytest.mark.django_db
DAY = timezone.localdate()


def ahead(days):
    return DAY + timedelta(days=days)


@pytest.mark.parametrize(("days", "late"), [(-1, True), (0, False), (3, False)])
def test_a_winding_day_is_late_once_it_is_past(days, late):
    make_project({"A": make_shade("Oat")}, need_on=ahead(days))
    (one,) = winding_days(DAY)
    assert (one.on, one.late, one.title) == (ahead(days), late, "Wind Plain mats")


def test_what_is_wound_or_put_away_has_no_winding_day(owner):
    shade = make_shade("Oat")
    make_cone(shade, by=owner)
    project = make_project({"A": shade}, need_on=ahead(3))
    reserve_project(pk=project.pk)
    wind_warp(pk=project.pk, by=owner)
    put_away(pk=make_project({"A": shade}, "Dropped", need_on=ahead(3)).pk)
    assert winding_days(DAY) == []


def test_a_warp_is_to_be_off_until_it_is_cut_off(owner):
    project = make_project({"A": make_shade("Oat")}, need_on=ahead(-9))
    Project.objects.update(off_on=ahead(-1))
    assert [one.late for one in days_off(DAY)] == [True]
    set_stage(pk=project.pk, stage=Stage.CUT_OFF, by=owner)
    assert days_off(DAY) == []


def test_before_a_fair_stands_the_day_to_be_ready_late_while_something_is_not(owner):
    fair = make_fair(begins_on=ahead(3), clear_days=7, place="Hall")
    fair_day, *rest = fair_days(DAY)
    assert (fair_day.on, fair_day.until, fair_day.more, rest) == (ahead(3), ahead(3), "Hall.", [])
    project = make_project({"A": make_shade("Oat")})
    set_fair(project_id=project.pk, fair_id=fair.pk)
    ready = fair_days(DAY)[1]
    assert (ready.on, ready.late, ready.more) == (ahead(-4), True, "Not ready yet: Plain mats.")
    set_stage(pk=project.pk, stage=Stage.FINISHED, by=owner)
    assert len(fair_days(DAY)) == 1
    make_fair("Long past", begins_on=ahead(-40))
    assert len(fair_days(DAY)) == 1


@pytest.mark.parametrize(("due", "late"), [(1, False), (0, False), (-4, False), (-5, True)])
def test_an_order_is_late_when_its_usual_delay_is_over_too(owner, due, late):
    make_order(make_shade("Oat"), by=owner)
    Order.objects.update(ordered_on=ahead(-30), due_on=ahead(due), late_days=4)
    (one,) = arrivals(DAY)
    assert (one.on, one.until, one.late) == (ahead(due), ahead(due + 4), late)
    assert "2 packages awaited." in one.more and "usual delay" in one.more
    Order.objects.update(closed_at=timezone.now())
    assert arrivals(DAY) == []


def test_an_order_that_is_not_sent_or_has_no_day_is_not_due(owner):
    make_order(make_shade("Oat"), by=owner, sent=False)
    assert arrivals(DAY) == []
    Order.objects.update(ordered_on=DAY)
    assert arrivals(DAY) == []


def test_what_is_lent_is_to_come_back_on_its_day():
    facts = {"weaving_width_um": 1, "shafts": 4, "waste_um": 0}
    Loom.objects.create(name="Big", lent_to="Ada", back_on=ahead(-2), **facts)
    Loom.objects.create(name="Small", lent_to="Ada", back_on=ahead(200), **facts)
    Loom.objects.create(name="Here", **facts)
    assert [(one.title, one.late) for one in loans(DAY)] == [
        ("Big comes back", True),
        ("Small comes back", False),
    ]


def test_cones_of_a_shade_leave_quarantine_together(owner):
    shade = make_shade("Oat")
    for code in ("K-1", "K-2"):
        cone = make_cone(shade, by=owner, code=code)
        set_condition(pk=cone.pk, condition="quarantine", on=ahead(-1), by=owner, reason="new")
    (one,) = quarantines(DAY)
    assert (one.late, one.title) == (True, "Quarantine of Oat ends")
    assert "K-1 and K-2" in one.more
    Cone.objects.update(condition_on=None)
    assert quarantines(DAY) == []


def test_all_days_stand_in_order_each_under_a_key_of_its_own(owner):
    make_fair(begins_on=ahead(40))
    for number in range(3):
        make_project({"A": make_shade(f"S{number}")}, f"P{number}", need_on=ahead(9 - number))
    Project.objects.update(off_on=ahead(20))
    days = all_days(DAY)
    assert len(days) == 8
    assert [one.on for one in days] == sorted(one.on for one in days)
    assert len({one.key for one in days}) == 8


def test_of_many_names_some_are_said():
    assert some("A") == "A"
    assert some("ABCD") == "A, B, C and D"
    assert some("ABCDE") == "A, B, C and 2 more"


def test_days_at_the_ends_of_the_calendar_are_no_error(studio):
    make_project({"A": make_shade("Oat")})
    Project.objects.update(need_on=date.max, off_on=date.max)
    assert len(all_days(DAY)) == 2


def sold(shade, supplier=None, **facts):
    """Sold by somebody from whom it takes 18 days and usually 4 more."""
    supplier = supplier or make_supplier(**({"lead_days": 18, "late_days": 4} | facts))
    PutUp.objects.create(supplier=supplier, yarn=shade.yarn, mass_mg=454_000)
    return supplier


def test_the_last_day_to_order_is_the_winding_day_less_the_suppliers_time_and_delay(studio):
    shade = make_shade("Oat")
    sold(shade)
    project = make_project({"A": shade}, need_on=ahead(30))
    (one,) = order_days(DAY)
    assert (one.on, one.late, one.title) == (ahead(8), False, "Order Oat for Plain mats")
    assert "from Example Yarns" in one.more and "To be wound on" in one.more
    assert earliest_by_project(last_order_days(DAY)) == {project.pk: ahead(8)}
    assert order_days(ahead(9))[0].late
    assert one in all_days(DAY)


def test_without_the_suppliers_time_or_a_winding_day_no_last_day_is_said(studio):
    shade = make_shade("Oat")
    sold(shade, lead_days=None)
    make_project({"A": shade}, need_on=ahead(30))
    assert order_days(DAY) == []
    other = make_shade("Rye", yarn=make_yarn("Other"))
    sold(other, make_supplier("Quick", lead_days=3))
    make_project({"A": other}, "No day")
    assert order_days(DAY) == []


def test_what_is_no_more_made_cannot_be_ordered(studio):
    shade = make_shade("Oat")
    sold(shade)
    make_project({"A": shade}, need_on=ahead(30))
    Shade.objects.update(no_more_on=DAY)
    assert order_days(DAY) == []
