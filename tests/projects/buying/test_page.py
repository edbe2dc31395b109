"""The page of what to order: proposed orders with their reasons, written in one go."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format

from projects.buying import writing
from projects.buying.last_days import last_order_days
from projects.models import Project
from stash.models import Cone, Order, OrderLine
from tests.factories import make_cone, make_order
from tests.projects.buying.shelf import a_shade, in_days, job, seller, sold
from tests.projects.shortages import yard_yarn

pytestmark = pytest.mark.django_db

BUYING = "/buying/"


def text_of(answer) -> str:
    return " ".join(answer.content.decode().split())


def form_of(answer, at: int = 0) -> dict:
    """What the page's form would send, untouched."""
    form = answer.context["orders"][at].form
    data = {}
    for name, field in form.fields.items():
        value = form[name].value()
        if value is True:
            data[name] = "on"
        elif value is not False and value is not None:
            data[name] = field.write(value) if hasattr(field, "write") else value
    return data


def write(client, supplier, data):
    return client.post(reverse("buying-write", args=[supplier.pk]), data)


@pytest.fixture
def short(owner):
    """15 g of 40 g that two pieces want: a cone of 50 g does."""
    shade = a_shade()
    make_cone(shade, grams=15, by=owner, lot="L1")
    job(shade, pieces=2)
    supplier = seller(minimum_cents=1_740, carriage_cents=600)
    put_up = sold(shade, supplier)
    return shade, supplier, put_up


def test_a_job_goes_short_and_the_order_is_proposed_with_its_reason(as_owner, short):
    answer = as_owner.get(BUYING)
    text = text_of(answer)
    last = date_format(in_days(35), "j F")
    assert f"Order by {last}: 1 shade." in text
    assert f"The job decides: order by {last}" in text
    assert "short by 25 g in whole ends" in text and "Plain mats" in text
    assert "12.40 EUR under the minimum of 17.40 EUR." in text
    assert "Write this order" in text


def test_it_is_written_in_one_post_with_its_reason_and_lot(as_owner, short, owner):
    shade, supplier, put_up = short
    answer = write(as_owner, supplier, form_of(as_owner.get(BUYING)))
    order = Order.objects.get()
    assert answer.status_code == 302 and answer["Location"] == reverse("order-page", args=[order.pk])
    line = order.lines.get()
    assert (line.shade, line.put_up, line.number, line.price_cents) == (shade, put_up, 1, 500)
    assert line.lot_wish == "one" and line.need_on == in_days(60) and "Plain mats" in line.reason
    text = text_of(as_owner.get(BUYING))
    assert "Must go out by" in text and "Write this order" not in text


def test_the_same_proposal_sent_twice_is_written_once(as_owner, short):
    _, supplier, _ = short
    data = form_of(as_owner.get(BUYING))
    assert write(as_owner, supplier, data).status_code == 302
    again = write(as_owner, supplier, data)
    assert again.status_code == 422 and "asked for any more" in text_of(again)
    assert OrderLine.objects.count() == 1


def test_what_was_ordered_meanwhile_stands_in_the_way_even_if_more_is_asked_for(as_owner, short, owner):
    shade, supplier, _ = short
    data = form_of(as_owner.get(BUYING))
    make_order(shade, 1, 5, supplier=supplier, by=owner, sent=False)
    answer = write(as_owner, supplier, data)
    assert answer.status_code == 422 and "was put on an order meanwhile" in text_of(answer)
    assert OrderLine.objects.count() == 1


def test_lines_go_into_the_order_that_is_being_written(as_owner, short, owner):
    _, supplier, _ = short
    other = a_shade("Other")
    order = make_order(other, 1, 50, supplier=supplier, by=owner, sent=False)
    page = as_owner.get(BUYING)
    assert f"Add these to order {order.pk}" in text_of(page)
    assert write(as_owner, supplier, form_of(page)).status_code == 302
    assert Order.objects.get().lines.count() == 2


def test_a_job_that_runs_late_is_put_on_the_order_that_is_being_written(as_owner, short, owner):
    shade, supplier, _ = short
    Project.objects.update(need_on=in_days(-1))
    order = make_order(a_shade("Other"), 1, 50, supplier=supplier, by=owner, sent=False)
    assert write(as_owner, supplier, form_of(as_owner.get(BUYING))).status_code == 302
    assert order.lines.get(shade=shade).need_on == in_days(-1)


def test_an_order_that_was_begun_between_two_looks_is_no_second_one(as_owner, short, owner, monkeypatch):
    _, supplier, _ = short
    order = make_order(a_shade("Other"), 1, 50, supplier=supplier, by=owner, sent=False)
    data = form_of(as_owner.get(BUYING))
    looks = iter([None, order])
    monkeypatch.setattr(writing, "_begun", lambda supplier_id: next(looks))
    answer = write(as_owner, supplier, data)
    assert answer.status_code == 422 and "Write again: these lines go into it." in text_of(answer)
    assert Order.objects.get().lines.count() == 1


def test_a_proposal_of_more_than_a_hundred_lines_is_posted(as_owner, short):
    _, supplier, _ = short
    data = form_of(as_owner.get(BUYING)) | {f"seen-{10_000 + at}": "0" for at in range(1_200)}
    assert write(as_owner, supplier, data).status_code == 302


def test_numbers_are_edited_and_lines_unticked(as_owner, short):
    shade, supplier, _ = short
    second = a_shade("Second")
    job(second, "Second mats")
    data = form_of(as_owner.get(BUYING))
    data[f"number-{shade.pk}"] = "3"
    data[f"lot-{shade.pk}"] = f"match-{shade.lots.get().pk}"
    del data[f"take-{second.pk}"]
    data[f"number-{second.pk}"] = "junk"
    assert write(as_owner, supplier, data).status_code == 302
    line = OrderLine.objects.get()
    assert line.number == 3 and line.lot.name == "L1"


@pytest.mark.parametrize("typed", ["", "0", "-1", "2.5", "many", "1001", "9" * 50])
def test_a_number_that_cannot_be_is_refused_and_kept(as_owner, short, typed):
    shade, supplier, _ = short
    data = form_of(as_owner.get(BUYING)) | {f"number-{shade.pk}": typed}
    answer = write(as_owner, supplier, data)
    assert answer.status_code == 422 and not Order.objects.exists()
    form = answer.context["orders"][0].form
    assert form.errors[f"number-{shade.pk}"] and form[f"number-{shade.pk}"].value() == typed


def test_hidden_fields_that_were_tampered_with_are_refused(as_owner, short):
    shade, supplier, _ = short
    data = form_of(as_owner.get(BUYING))
    for name, value in (
        ("put_up", "9" * 30),
        ("put_up", "77"),
        ("mass", "1"),
        ("seen", "x"),
        ("lot", "match-9999"),
    ):
        answer = write(as_owner, supplier, data | {f"{name}-{shade.pk}": value})
        assert answer.status_code == 422, name
    assert not Order.objects.exists()


def test_nothing_ticked_is_said(as_owner, short):
    shade, supplier, _ = short
    data = form_of(as_owner.get(BUYING))
    del data[f"take-{shade.pk}"]
    answer = write(as_owner, supplier, data)
    assert answer.status_code == 422 and "Tick at least one" in text_of(answer)


def test_reckoning_anew_writes_nothing(as_owner, short):
    shade, supplier, _ = short
    data = form_of(as_owner.get(BUYING)) | {f"number-{shade.pk}": "4", "reckon": "1"}
    answer = write(as_owner, supplier, data)
    assert answer.status_code == 200 and "20.00 EUR" in text_of(answer) and not Order.objects.exists()
    assert "under the minimum" not in text_of(answer)


def test_helpers_and_visitors_read_and_write_no_order(client, helper, viewer, short):
    _, supplier, _ = short
    for person in (helper, viewer):
        client.force_login(person)
        answer = client.get(BUYING)
        assert answer.status_code == 200 and "Write this order" not in text_of(answer)
        assert write(client, supplier, {}).status_code == 403


def test_what_comes_too_late_says_by_how_much(as_owner, owner):
    shade = a_shade()
    job(shade, days=19)
    sold(shade, seller())
    text = text_of(as_owner.get(BUYING))
    assert "Too late by 6 days with usual delay" in text and "Should have gone out by" in text


def test_who_comes_in_time_goes_before_who_is_cheap(as_owner, owner):
    shade = a_shade()
    job(shade, days=20)
    sold(shade, seller("Far and cheap"), price=100)
    sold(shade, seller("Near and dear", lead_days=3, late_days=1), price=900)
    found = as_owner.get(BUYING).context["found"]
    (proposed,) = found.proposed
    assert proposed.supplier.name == "Near and dear"
    assert "too late by 5 days" in proposed.lines[0].others[0]


def test_shades_go_into_one_parcel_where_carriage_is_dearer(as_owner, owner):
    one, two = a_shade("One", yarn=yard_yarn("A yarn")), a_shade("Two", yarn=yard_yarn("B yarn"))
    job(one, "Of one")
    job(two, "Of two")
    both, other = seller("Both", carriage_cents=700), seller("Other", carriage_cents=700)
    sold(one, both, price=500)
    sold(two, both, price=600)
    sold(two, other, price=500)
    (proposed,) = as_owner.get(BUYING).context["found"].proposed
    assert proposed.supplier == both and len(proposed.lines) == 2


def test_least_number_one_more_and_a_cheaper_break_are_said(as_owner, owner):
    shade = a_shade(one_more=True)
    job(shade, pieces=2)
    sold(shade, seller(), grams=50, price=1_000, breaks=[(4, 450)])
    (proposed,) = as_owner.get(BUYING).context["found"].proposed
    line = proposed.lines[0]
    assert line.number == 4
    assert line.why == (
        "1 cone for the whole buffer; one more, so that the lot lasts; 4 cost 2.00 EUR less than 2."
    )


def test_a_keep_level_that_is_reached_asks_without_a_job(as_owner, owner):
    shade = a_shade(keep_mg=100_000)
    make_cone(shade, grams=60, by=owner)
    sold(shade, seller())
    (proposed,) = as_owner.get(BUYING).context["found"].proposed
    line = proposed.lines[0]
    assert line.number == 1 and line.asking.must
    assert line.decides == "The keep level decides: 60 g is free and on order, and 100 g is to be kept."


def test_what_nobody_sells_and_what_is_no_more_made_is_listed(as_owner, owner):
    unsold, over = a_shade("Unsold"), a_shade("Over")
    job(unsold, "One")
    job(over, "Two")
    over.no_more_on = timezone.localdate()
    over.save()
    seller()
    text = text_of(as_owner.get(BUYING))
    assert "Nobody is known to sell these" in text and "No more made" in text
    assert f"?shade={unsold.pk}" in text and "put-ups/new/?yarn=Yard%20cotton" in text


def test_currencies_are_not_added_up(as_owner, owner):
    one, two = a_shade("One", yarn=yard_yarn("A yarn")), a_shade("Two", yarn=yard_yarn("B yarn"))
    job(one, "Of one")
    job(two, "Of two")
    sold(one, seller("Here"), price=500)
    sold(two, seller("There", currency="NOK"), price=9_900)
    found = as_owner.get(BUYING).context["orders"]
    assert sorted(order.sums.goods for order in found) == ["5.00 EUR", "99.00 NOK"]


def test_the_page_asks_no_more_queries_for_more_shades(as_owner, owner):
    def studio_of(count, name):
        supplier = seller(f"Seller {name}")
        for at in range(count):
            shade = a_shade(f"{name} {at}", yarn=yard_yarn(f"Yarn {name} {at}"), keep_mg=10_000)
            make_cone(shade, grams=5, by=owner, code=f"{name}-{at}", lot="L")
            job(shade, f"Mats {name} {at}")
            sold(shade, supplier, breaks=[(5, 300)])

    def queries() -> int:
        as_owner.get(BUYING)
        with CaptureQueriesContext(connection) as caught:
            assert as_owner.get(BUYING).status_code == 200
        return len(caught)

    studio_of(2, "A")
    few = queries()
    studio_of(4, "B")
    assert queries() == few


def test_what_is_on_order_and_late_serves_no_job_and_is_not_proposed_twice(as_owner, short, owner):
    shade, supplier, _ = short
    order = make_order(shade, 1, 50, supplier=supplier, by=owner)
    day = timezone.localdate()
    assert not as_owner.get(BUYING).context["found"].lead
    Order.objects.filter(pk=order.pk).update(ordered_on=in_days(-60), due_on=in_days(-20))
    answer = as_owner.get(BUYING)
    assert "What is late would be enough: ask after it" in text_of(answer)
    assert not answer.context["found"].proposed
    (last,) = last_order_days(day)
    assert (last.shade_id, last.order_id, last.day) == (shade.pk, order.pk, None)
    assert not answer.context["found"].lead


def test_what_is_on_order_for_no_known_day_is_asked_after_and_not_proposed_again(as_owner, short, owner):
    shade, supplier, _ = short
    order = make_order(shade, 1, 50, supplier=supplier, by=owner)
    Order.objects.filter(pk=order.pk).update(due_on=None)
    answer = as_owner.get(BUYING)
    assert "It is on order, the day not known: ask after it" in text_of(answer)
    assert not answer.context["found"].proposed and not answer.context["found"].lead
    (last,) = last_order_days(timezone.localdate())
    assert (last.order_id, last.day) == (order.pk, None)


@pytest.mark.parametrize(("fibre", "asks"), [("cotton", False), ("wool", True)])
def test_animal_yarn_on_order_serves_a_job_once_its_quarantine_is_over(as_owner, owner, fibre, asks):
    shade = a_shade(yarn=yard_yarn("Yard yarn", fibres={fibre: 100}))
    job(shade, days=30)
    supplier = seller()
    sold(shade, supplier)
    make_order(shade, 1, 50, supplier=supplier, by=owner)
    assert bool(as_owner.get(BUYING).context["found"].proposed) is asks


@pytest.mark.parametrize(("wish", "asks"), [("any", True), ("one", False)])
def test_packages_of_any_lot_are_not_counted_as_one_lot(as_owner, owner, wish, asks):
    """Four packages of 8 yd: the weft of a piece, 10 yd, is of one lot."""
    shade = a_shade()
    job(shade)
    supplier = seller()
    sold(shade, supplier)
    make_order(shade, 4, 8, supplier=supplier, by=owner, lot_wish=wish)
    assert bool(as_owner.get(BUYING).context["found"].proposed) is asks


def test_what_is_in_quarantine_is_not_ordered_again_for_the_level(as_owner, owner):
    shade = a_shade(keep_mg=100_000)
    make_cone(shade, grams=60, by=owner)
    apart = make_cone(shade, grams=30, by=owner)
    Cone.objects.filter(pk=apart.pk).update(condition="quarantine", condition_on=in_days(10))
    sold(shade, seller(), grams=20)
    (proposed,) = as_owner.get(BUYING).context["found"].proposed
    (line,) = proposed.lines
    assert line.number == 1
    assert line.decides == (
        "The keep level decides: 90 g is free, in quarantine or on order, and 100 g is to be kept."
    )


def test_on_the_winding_day_of_a_job_that_is_served_the_level_still_asks(as_owner, owner):
    shade = a_shade(keep_mg=50_000)
    make_cone(shade, grams=60, by=owner)
    job(shade, days=0)
    sold(shade, seller())
    (proposed,) = as_owner.get(BUYING).context["found"].proposed
    (line,) = proposed.lines
    assert line.number == 1 and "beside what is to be wound by today" in line.decides


def test_a_put_up_too_small_for_one_end_is_no_proposal(as_owner, owner):
    shade = a_shade()
    job(shade, pieces=5)
    sold(shade, seller(), grams=4)
    answer = as_owner.get(BUYING)
    assert "too small for one warp end" in text_of(answer) and not answer.context["found"].proposed
