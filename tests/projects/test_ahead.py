"""What lies ahead of a shade, in words, as a chart and on its page."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from projects.ahead import aheads
from projects.templatetags.projects_ahead import time_chart, time_chart_small
from stash.calc.outlook import Arrival, Clearing, Job, Outlook, Taken, UsualUse
from stash.calc.writing import Measures
from stash.models import Order, Shade
from stash.services.yarns import retire_shade
from tests.factories import make_cone, make_order, make_shade, make_supplier, make_yarn
from tests.projects.factories import make_project, plain_plan
from tests.projects.test_query_budgets import COMMON, queries
from tests.stash.reading import Read

pytestmark = pytest.mark.django_db

TODAY = date(2026, 8, 3)
GRAM = 1_000


def day(number: int) -> date:
    return TODAY + timedelta(days=number)


def job(on: int | None, grams: int, name: str = "Mats", buffered: int | None = None, pk: int = 1) -> Job:
    on_ = None if on is None else day(on)
    return Job(pk, name, on_, 5, grams * GRAM, (grams if buffered is None else buffered) * GRAM)


@pytest.fixture
def shade(db) -> Shade:
    return make_shade()


def told(shade: Shade, free: int, *, keep: int | None = None, measures: Measures | None = None, **facts):
    outlook = Outlook(shade.pk, free * GRAM, keep and keep * GRAM, **facts)
    return aheads([shade], {shade.pk: outlook}, measures or Measures(), today=TODAY)[shade.pk]


def test_a_shortage_names_its_day_its_amount_and_the_job(shade):
    found = told(shade, 1_200, jobs=(job(20, 900, "First"), job(36, 560, "Lantern mats", pk=2)))
    assert found.free == "Free now: 1,200 g (8,889 yd)."
    assert found.lead == "Short from 8 September by 260 g (1,926 yd), when Lantern mats is wound."
    assert found.state == "short" and found.lacks


def test_a_shortage_that_grows_says_how_far(shade):
    found = told(shade, 100, jobs=(job(1, 150), job(200, 50, "Later", pk=2)))
    assert found.lead.endswith("At worst 100 g (741 yd) are lacking, from 19 February 2027.")


def test_buffers_that_are_not_covered_are_tight(shade):
    found = told(shade, 100, jobs=(job(9, 95, buffered=105),))
    assert found.state == "tight"
    assert "not with its buffer: from 12 August 5.0 g" in found.lead


def test_jobs_that_are_covered_say_what_stays_free(shade):
    found = told(shade, 100, jobs=(job(9, 60),))
    assert (found.state, found.lead) == (
        "enough",
        "By weight the job to come is covered; at the least 40 g (296 yd) stay free, from 12 August.",
    )
    arrival = Arrival(1, day(2), day(2), 90 * GRAM)
    found = told(shade, 100, jobs=(job(9, 60), job(10, 20, pk=2)), arrivals=(arrival,))
    assert found.lead == "By weight all 2 jobs to come are covered, and never is less free than today."


def test_where_no_job_wants_it_nothing_is_judged(shade):
    found = told(shade, 100)
    assert (found.state, found.says_anything, found.rows) == ("quiet", False, [])


def test_usual_use_is_called_an_estimate_and_far_ahead_names_a_month_only(shade):
    use, taken = UsualUse(10 * GRAM, 0, 104, 12), Taken(104, 12, 1)
    soon = told(shade, 30, use=use, taken=taken)
    assert (
        "Usual use is about 10 g a week: an estimate from 12 takings for no project in 104 weeks. "
        "With it nothing is left about 25 August."
    ) in soon.more
    later = told(shade, 300, keep=100, use=use, taken=taken)
    assert any("With it nothing is left in about March 2027." in words for words in later.more)
    kept = told(shade, 700, keep=300, use=use, taken=taken)
    assert any("With it the keep level is reached in about May 2027." in words for words in kept.more)


@pytest.mark.parametrize(
    "taken, words",
    [
        (Taken(4, 2, 0), "Usual use is not known yet: 2 takings for no project in only 4 weeks."),
        (Taken(60, 1, 9), "Usual use is not known: only 1 taking for no project in 60 weeks."),
        (Taken(104, 9, 60), "Nothing was taken for no project for a year: no use is counted as usual."),
    ],
)
def test_why_nothing_is_called_usual_is_said(shade, taken, words):
    assert words in told(shade, 100, taken=taken).more


def test_what_is_not_on_the_line_is_said(shade):
    overdue = Arrival(1, day(-9), day(-2), 454 * GRAM)
    found = told(
        shade,
        100,
        keep=100,
        jobs=(job(-5, 30, "Past"), *(job(None, 10, f"No day {at}", pk=2 + at) for at in range(6))),
        arrivals=(overdue,),
        undated_mg=200 * GRAM,
    )
    assert found.falls == "No more than the keep level of 100 g is free now."
    assert found.more == (
        "Past counts today: its winding day, 29 July 2026, is past.",
        "Without a winding day, and so not counted: No day 0, No day 1, No day 2 and No day 3 and 2 others, "
        "60 g (445 yd).",
        "Overdue and not counted: 454 g, due on 25 July 2026.",
        "On order for no known day, and so not counted: 200 g.",
    )


def test_the_day_on_which_no_more_than_the_keep_level_is_free(shade):
    assert told(shade, 100, keep=60, jobs=(job(9, 40),)).falls.endswith("60 g is free from 12 August.")
    assert told(shade, 100, keep=60, jobs=(job(9, 39),)).falls == ""


def test_a_job_that_only_that_days_parcel_serves_is_named(shade):
    found = told(shade, 10, jobs=(job(9, 30, "Close"),), arrivals=(Arrival(1, day(9), day(9), 90 * GRAM),))
    assert "Close is served only by what comes in on its winding day itself, 12 August." in found.more


def test_the_days_as_rows_say_what_changes_and_what_is_then_free(shade):
    order = make_order(shade, supplier=make_supplier("Slow Yarns", lead_days=18))
    line = order.lines.get()
    cone = make_cone(shade)
    found = told(
        shade,
        100,
        jobs=(job(3, 130),),
        arrivals=(Arrival(line.pk, day(5), day(8), 454 * GRAM),),
        clearings=(Clearing(cone.pk, day(9), 50 * GRAM),),
        use=UsualUse(7 * GRAM, 0, 104, 12),
        taken=Taken(104, 12, 1),
    )
    rows = [(row.on, row.what, row.change, row.after, row.estimate, row.lacking) for row in found.rows]
    assert rows == [
        (day(3), "Mats", "−130 g", "−30 g", "about −33 g", True),
        (day(8), "Order of Slow Yarns comes", "+454 g", "424 g", "about 416 g", False),
        (day(9), "A cone comes out of quarantine", "+50 g", "474 g", "about 465 g", False),
    ]
    assert found.rows[1].address == reverse("order-page", args=[order.pk])
    assert found.rows[2].address == reverse("cone-page", args=[cone.pk])


def test_an_order_that_is_kept_apart_says_when_it_is_due_and_stands_on_the_day_it_is_free(shade):
    line = make_order(shade, supplier=make_supplier("Slow Yarns", lead_days=18)).lines.get()
    [row] = told(shade, 0, arrivals=(Arrival(line.pk, day(5), day(8), 454 * GRAM, 14),)).rows
    assert (row.on, row.what) == (day(22), "Order of Slow Yarns comes out of quarantine")
    assert row.note == "due 8 August; usual delay and quarantine counted"


def test_the_drawing_holds_no_style_and_no_script_and_escapes_names(shade):
    found = told(shade, 100, keep=40, jobs=(job(9, 130, "<b>Mats & more</b>"),))
    for drawing in (time_chart(found), time_chart_small(found)):
        assert "style" not in drawing and "<b>" not in drawing and "script" not in drawing
        assert f'fill="{shade.colour}"' in drawing
        assert 'role="img" aria-label="Free now' in drawing
        assert 'class="lacking"' in drawing and 'class="keep"' in drawing
        assert "nan" not in drawing and "e+" not in drawing
    assert "&lt;b&gt;Mats &amp; more&lt;/b&gt;" in time_chart(found)
    assert "<text" not in time_chart_small(found)


def test_a_shade_without_a_colour_is_drawn_without_one(db):
    found = told(make_shade("Undyed", colour=""), 100, jobs=(job(9, 30),))
    assert 'class="stock uncoloured"' in time_chart(found) and "fill=" not in time_chart(found)


def test_ounces_are_ticked_in_ounces_and_pounds(shade):
    ounces = Measures(mass_in="oz")
    heights = [words for _, words in told(shade, 200, jobs=(job(9, 30),), measures=ounces).heights]
    assert heights == ["0 oz", "2.0 oz", "4.0 oz", "6.0 oz"]
    pounds = [words for _, words in told(shade, 4_000, jobs=(job(9, 30),), measures=ounces).heights]
    assert pounds == ["0 oz", "2 lb", "4 lb", "6 lb", "8 lb"]


@pytest.fixture
def busy(owner) -> Shade:
    return shade_ahead("a", owner)


def shade_ahead(name: str, owner, times: int = 1) -> Shade:
    """With jobs and orders of which each is one more."""
    shade = make_shade(f"Busy {name}", yarn=make_yarn(f"Yarn {name}"), keep_mg=900)
    make_cone(shade, grams=4, by=owner)
    for at in range(times):
        on = timezone.localdate() + timedelta(days=9 + at)
        make_project({"A": shade}, name=f"Mats {name}{at}", plan=plain_plan(pieces=2), need_on=on)
        make_order(shade, supplier=make_supplier(f"Yarns {name}{at}", lead_days=30), by=owner)
    return shade


def test_the_page_says_it_in_a_sentence_draws_it_and_lists_the_days(as_viewer, busy):
    page = Read(as_viewer.get(reverse("shade-ahead", args=[busy.pk])))
    assert "Short from" in page.text and "when Mats a0 is wound." in page.text
    assert any(label.startswith("Free now: 4.0 g") for label in page.labels)
    assert page.links["Order of Yarns a0 comes"]
    assert [row[0] for row in page.rows[1:]] == ["Mats a0", "Order of Yarns a0 comes usual delay counted"]


def test_the_shades_page_leads_to_it_and_loads_it_as_a_part(as_viewer, busy):
    address = reverse("shade-ahead", args=[busy.pk])
    shade_page = as_viewer.get(reverse("shade-page", args=[busy.pk])).content.decode()
    assert f'hx-get="{address}"' in shade_page and f'href="{address}"' in shade_page
    part = as_viewer.get(address, headers={"HX-Request": "true"}).content.decode()
    assert "<html" not in part and 'class="ahead-chart"' in part and "Day by day" in part


def test_of_a_retired_shade_nothing_lies_ahead(as_viewer, db):
    shade = make_shade()
    retire_shade(pk=shade.pk)
    assert as_viewer.get(reverse("shade-ahead", args=[shade.pk])).status_code == 404
    assert "What lies ahead" not in as_viewer.get(reverse("shade-page", args=[shade.pk])).content.decode()


def test_an_overdue_order_names_its_supplier(as_viewer, busy):
    Order.objects.update(ordered_on=TODAY - timedelta(days=300), due_on=TODAY - timedelta(days=200))
    page = Read(as_viewer.get(reverse("shade-ahead", args=[busy.pk])))
    assert "Overdue and not counted: 908 g of Yarns a0" in page.text


def test_twice_the_jobs_and_orders_ask_the_same(as_owner, owner):
    """The shade; its outlook (9); the orders that it names; and what Buying reads around a shade (7)."""
    one, two = shade_ahead("a", owner), shade_ahead("b", owner, times=2)
    counts = [len(queries(as_owner, reverse("shade-ahead", args=[shade.pk]))) for shade in (one, two)]
    assert counts == [COMMON + 18] * 2
