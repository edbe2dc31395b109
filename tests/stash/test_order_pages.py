"""The pages of suppliers and orders: written, sent, waited for, taken in, and what they say when something is wrong."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from stash.models import Cone, Order, OrderLine, OrderLot, PriceBreak, PutUp, Supplier
from tests.factories import GRAM, make_cone, make_order, make_shade, make_supplier, make_yarn
from tests.stash.reading import Read
from tests.stash.sending import send, typed

pytestmark = pytest.mark.django_db


def read(client, name, *args, **query):
    return Read(client.get(reverse(name, args=args, query=query)))


def said(client, answer) -> str:
    assert answer.status_code == 302, Read(answer).errors
    return Read(client.get(answer.url)).text


def refused(answer) -> dict:
    assert answer.status_code == 422
    return Read(answer).errors


def queries(client, address) -> int:
    client.get(address)
    with CaptureQueriesContext(connection) as caught:
        assert client.get(address).status_code == 200
    return len(caught)


@pytest.fixture
def spruce(studio):
    return make_shade("Spruce")


@pytest.fixture
def supplier(studio):
    return make_supplier(lead_days=18, late_days=5)


@pytest.fixture
def put_up(supplier, spruce):
    made = PutUp.objects.create(
        supplier=supplier, yarn=spruce.yarn, mass_mg=454 * GRAM, price_cents=1850, least=2
    )
    PriceBreak.objects.create(put_up=made, number=6, price_cents=1700)
    return made


@pytest.fixture
def order(spruce, supplier, owner) -> Order:
    return make_order(spruce, number=3, by=owner, price_cents=1850)


# --- Suppliers ---------------------------------------------------------------------------------------------------
def test_a_supplier_is_noted_in_words_people_use(as_owner):
    answer = send(
        as_owner,
        "supplier-new",
        name="Example Yarns",
        lead="2 weeks",
        late="3 days",
        currency="usd",
        minimum="40 USD",
        carriage="6,50",
        carriage_free="120",
    )
    text = said(as_owner, answer)
    assert "14 days from order to parcel, usually 3 days late" in text
    assert "40.00 USD" in text and "6.50 USD" in text
    assert "nothing is converted" in text


@pytest.mark.parametrize(
    ("field", "text", "words"),
    [
        ("lead", "3 months", "not a sure number of days"),
        ("late", "soon", "cannot be read"),
        ("currency", "EU", "three letters"),
        ("minimum", "40 GBP", "GBP is another currency. Give the price in USD"),
        ("minimum", "0", "Leave it empty"),
        ("carriage_free", "120", "Say what carriage costs"),
        ("name", "", "cannot be left empty"),
    ],
)
def test_terms_that_cannot_be_read_are_refused_at_their_field(as_owner, field, text, words):
    fields = {"name": "Example Yarns", "currency": "USD"} | {field: text}
    errors = refused(send(as_owner, "supplier-new", **fields))
    assert any(words in error for at_field in errors.values() for error in at_field)
    assert not Supplier.objects.exists()


def test_a_supplier_with_an_open_order_is_not_retired_and_the_page_names_it(as_owner, order):
    answer = send(as_owner, "supplier-retire", order.supplier_id)
    assert answer.status_code == 422
    assert f"Order {order.pk} of Example Yarns is still open" in Read(answer).text


def test_a_change_of_currency_asks_first(as_owner, put_up):
    fields = typed(as_owner, "supplier-edit", put_up.supplier_id, currency="USD", amounts_stay="")
    answer = send(as_owner, "supplier-edit", put_up.supplier_id, **fields)
    assert "were noted in EUR" in refused(answer)["currency"][0]
    assert "amounts_stay" in Read(answer).fields
    fields["amounts_stay"] = "on"
    assert said(as_owner, send(as_owner, "supplier-edit", put_up.supplier_id, **fields))


def test_a_put_up_is_noted_with_price_breaks(as_owner, supplier, spruce):
    fields = {
        "yarn": str(spruce.yarn_id),
        "form": "cone",
        "mass": "1 lb",
        "price": "18.50",
        "least": "2",
        "break-2": "6",
        "break_price-2": "17",
    }
    text = said(as_owner, send(as_owner, "put-up-new", supplier.pk, **fields))
    assert "Cone of 454 g" in text and "from 6: 17.00 EUR" in text


def test_a_price_break_that_cannot_be_is_refused_at_its_own_line(as_owner, supplier, spruce):
    fields = {"yarn": str(spruce.yarn_id), "form": "cone", "mass": "454 g", "price": "18.50"}
    dearer = {"break-1": "6", "break_price-1": "17", "break-3": "12", "break_price-3": "17.50"}
    errors = refused(send(as_owner, "put-up-new", supplier.pk, **fields, **dearer))
    assert "costs less than before" in errors["break-3"][0]
    errors = refused(send(as_owner, "put-up-new", supplier.pk, **fields, **{"break-1": "6"}))
    assert "What does one cost then" in errors["break_price-1"][0]
    errors = refused(send(as_owner, "put-up-new", supplier.pk, **fields, shade="Moss"))
    assert "no shade of that name" in errors["shade"][0]


def test_a_put_up_is_changed_and_sold_no_more(as_owner, put_up):
    fields = typed(as_owner, "put-up-edit", put_up.pk, price="19")
    assert "19.00 EUR" in said(as_owner, send(as_owner, "put-up-edit", put_up.pk, **fields))
    assert put_up.breaks.get().number == 6
    assert "sold no more" in said(as_owner, send(as_owner, "put-up-retire", put_up.pk))
    assert "is sold again" in said(as_owner, send(as_owner, "put-up-retire", put_up.pk, back="1"))


# --- Writing an order ----------------------------------------------------------------------------------------------
def test_an_order_is_written_from_a_shade_and_sent(as_owner, put_up, spruce):
    address = reverse("order-new", query={"shade": spruce.pk})
    answer = as_owner.post(address, {"supplier": put_up.supplier_id})
    order = Order.objects.get()
    assert answer.url == reverse("order-line-new", args=[order.pk], query={"shade": spruce.pk})
    shown = as_owner.get(answer.url).context["form"]
    assert shown["put_up"].value() == str(put_up.pk)
    assert (shown["shade"].value(), shown["number"].value()) == ("Spruce", "2")
    fields = typed(as_owner, "order-line-new", order.pk, put_up=str(put_up.pk), shade="spruce", number="6")
    text = said(as_owner, send(as_owner, "order-line-new", order.pk, **fields))
    assert "6 cones of 454 g" in text and "17.00 EUR" in text and "102.00 EUR" in text
    fields = typed(as_owner, "order-send", order.pk)
    text = said(as_owner, send(as_owner, "order-send", order.pk, **fields))
    due = timezone.localdate() + timedelta(days=18)
    assert f"Due on {due.day} {due:%B}, in 18 days; with the usual delay on" in text
    assert "6 awaited" in text


def test_an_order_that_is_being_written_is_added_to(as_owner, supplier):
    for _ in range(2):
        send(as_owner, "order-new", supplier=str(supplier.pk))
    assert Order.objects.count() == 1


def test_a_yarn_without_a_put_up_is_ordered_by_its_form_and_weight(as_owner, supplier, spruce):
    send(as_owner, "order-new", supplier=str(supplier.pk))
    order = Order.objects.get()
    fields = typed(as_owner, "order-line-new", order.pk, put_up="other", shade="Spruce", number="2")
    errors = refused(send(as_owner, "order-line-new", order.pk, **fields))
    assert set(errors) >= {"yarn", "mass"}
    fields |= {"yarn": str(spruce.yarn_id), "form": "skein", "mass": "100 g", "price": "9.50"}
    assert "2 skeins of 100 g" in said(as_owner, send(as_owner, "order-line-new", order.pk, **fields))


def test_the_put_up_says_of_which_yarn_shades_and_lots_are_offered(as_owner, put_up, owner):
    make_cone(make_shade("Moss"), lot="M1", by=owner)
    make_shade("Slate", yarn=make_yarn("Other"))
    order = make_order(by=owner, sent=False)
    headers = {"HX-Request": "true", "HX-Target": "known-names"}
    address = reverse("order-line-new", args=[order.pk], query={"put_up": put_up.pk, "shade": "moss"})
    names = as_owner.get(address, headers=headers).content.decode()
    assert "Moss" in names and "M1" in names and "Slate" not in names


def test_a_shade_that_is_no_more_made_is_marked_in_an_order(as_owner, owner, spruce):
    order = make_order(spruce, by=owner, sent=False)
    spruce.no_more_on = timezone.localdate()
    spruce.save()
    assert "ask whether they have some left" in read(as_owner, "order-page", order.pk).text


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"shade": "Moss"}, "shade", "no shade of that name"),
        ({"number": "1"}, "number", "At least 2 of one shade"),
        ({"number": "0"}, "number", "at least 1"),
        ({"price": "18 USD"}, "price", "USD is another currency. Give the price in EUR"),
        ({"lot_wish": "match"}, "lot", "Name the lot to match"),
        ({"lot_wish": "match", "lot": "2299"}, "lot", "ever on the shelf"),
        ({"lot": "2207"}, "lot_wish", "A lot is named"),
        ({"need_on": "2020-01-05"}, "need_on", "is over"),
        ({"need_on": "soon"}, "need_on", "day of the calendar"),
        ({"put_up": "77777"}, "put_up", "sold no more"),
    ],
)
def test_a_line_that_cannot_be_is_refused_at_its_field(as_owner, put_up, owner, changes, field, words):
    order = make_order(by=owner, sent=False)
    base = {"put_up": str(put_up.pk), "shade": "Spruce", "number": "2", "lot_wish": "any", "version": "1"}
    answer = send(as_owner, "order-line-new", order.pk, **(base | changes))
    assert any(words in error for error in refused(answer)[field])
    assert order.lines.count() == 1


def test_a_line_is_changed_and_taken_out(as_owner, owner):
    lot = make_cone(lot="2207", by=owner).lot
    order = make_order(lot.shade, by=owner, sent=False)
    line = order.lines.get()
    fields = typed(as_owner, "order-line-edit", order.pk, line.pk, lot_wish="match", lot="2207", number="4")
    assert "the same lot as 2207" in said(
        as_owner, send(as_owner, "order-line-edit", order.pk, line.pk, **fields)
    )
    answer = send(as_owner, "order-line-remove", order.pk, line.pk, version="2")
    assert "taken out" in said(as_owner, answer)


@pytest.mark.parametrize("huge", [(10**30, 1), (1, 10**30)])
def test_a_number_too_large_for_a_line_is_not_found(as_owner, owner, huge):
    order = make_order(by=owner, sent=False)
    keys = [
        key if key > 1 else real for key, real in zip(huge, (order.pk, order.lines.get().pk), strict=True)
    ]
    for name in ("order-line-edit", "order-line-cancel"):
        assert as_owner.get(reverse(name, args=keys)).status_code == 404
    assert as_owner.post(reverse("order-line-remove", args=keys), {"version": "1"}).status_code == 404


def test_a_line_opened_before_the_order_changed_is_kept_on_the_second_try(as_owner, put_up, owner):
    order = make_order(by=owner, sent=False)
    fields = typed(as_owner, "order-line-new", order.pk, put_up=str(put_up.pk), shade="Spruce", number="2")
    Order.objects.update(version=5)
    answer = send(as_owner, "order-line-new", order.pk, **fields)
    assert answer.status_code == 422
    assert "changed by someone else" in Read(answer).text
    again = {name: bound["value"] for name, bound in Read(answer).fields.items() if name == "version"}
    assert again == {"version": "5"}
    send(as_owner, "order-line-new", order.pk, **(fields | again))
    assert order.lines.count() == 2


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"on": ""}, "on", "cannot be left empty"),
        ({"on": "2031-02-03"}, "on", "still to come"),
        ({"on": "2026-99-01"}, "on", "day of the calendar"),
        ({"due_on": "2020-01-05"}, "due_on", "on that day or later"),
        ({"carriage": "7 GBP"}, "carriage", "GBP is another currency"),
    ],
)
def test_a_sending_that_cannot_be_is_refused_at_its_field(as_owner, owner, changes, field, words):
    order = make_order(by=owner, sent=False)
    fields = typed(as_owner, "order-send", order.pk, **changes)
    assert any(words in error for error in refused(send(as_owner, "order-send", order.pk, **fields))[field])
    assert Order.objects.get().ordered_on is None


def test_a_day_before_it_was_written_is_asked_about(as_owner, owner):
    order = make_order(by=owner, sent=False)
    day = (timezone.localdate() - timedelta(days=2)).isoformat()
    fields = typed(as_owner, "order-send", order.pk, on=day, was_sooner="")
    answer = send(as_owner, "order-send", order.pk, **fields)
    assert "tick so below" in refused(answer)["on"][0]
    assert "was_sooner" in Read(answer).fields
    send(as_owner, "order-send", order.pk, **(fields | {"was_sooner": "on"}))
    assert Order.objects.get().ordered_on.isoformat() == day


def test_the_page_says_what_is_missing_to_the_suppliers_terms(as_owner, owner):
    terms = make_supplier("Terms", minimum_cents=4_000, carriage_cents=650, carriage_free_cents=9_000)
    order = make_order(number=1, supplier=terms, by=owner, sent=False, price_cents=1850)
    text = read(as_owner, "order-page", order.pk).text
    assert "21.50 EUR short of the 40.00 EUR that Terms takes at least." in text
    assert "For 71.50 EUR more, carriage costs nothing." in text
    assert "25.00 EUR" in text


def test_an_order_is_given_up_or_taken_back(as_owner, order):
    text = said(as_owner, send(as_owner, "order-take-back", order.pk, version=str(order.version)))
    assert "being written again" in text
    fields = typed(as_owner, "order-discard", order.pk)
    assert "is given up" in said(as_owner, send(as_owner, "order-discard", order.pk, **fields))


# --- Waiting, cancelling ---------------------------------------------------------------------------------------
def test_a_late_order_says_by_how_much(as_owner, order):
    day = timezone.localdate()
    Order.objects.update(ordered_on=day - timedelta(days=30), due_on=day - timedelta(days=3))
    assert "It was due on" in read(as_owner, "order-page", order.pk).text
    Order.objects.update(due_on=day - timedelta(days=11))
    text = read(as_owner, "order-page", order.pk).text
    due, sure = day - timedelta(days=11), day - timedelta(days=6)
    assert (
        f"11 days late: it was due on {due.day} {due:%B %Y}; with the usual delay it was due on {sure.day} {sure:%B %Y}."
        in text
    )
    assert "11 days late" in read(as_owner, "orders").text


def test_asking_again_is_noted_with_the_day_they_say_now(as_owner, order):
    day = timezone.localdate() + timedelta(days=40)
    fields = typed(
        as_owner, "order-edit", order.pk, note="Asked again: dyed next week.", due_on=day.isoformat()
    )
    text = said(as_owner, send(as_owner, "order-edit", order.pk, **fields))
    assert "Asked again: dyed next week." in text
    assert f"Due on {day.day} {day:%B}" in text
    over = (timezone.localdate() - timedelta(days=1)).isoformat()
    fields = typed(as_owner, "order-edit", order.pk, due_on=over)
    assert refused(send(as_owner, "order-edit", order.pk, **fields))["due_on"]


def test_lines_are_cancelled_and_the_order_closed(as_owner, order):
    line = order.lines.get()
    fields = typed(as_owner, "order-line-cancel", order.pk, line.pk, cancelled="7")
    answer = send(as_owner, "order-line-cancel", order.pk, line.pk, **fields)
    assert "at most 3 can be cancelled" in refused(answer)["cancelled"][0]
    text = said(
        as_owner, send(as_owner, "order-line-cancel", order.pk, line.pk, **(fields | {"cancelled": "1"}))
    )
    assert "1 cancelled" in text
    assert "Nothing more is awaited" in said(
        as_owner, send(as_owner, "order-close", order.pk, **typed(as_owner, "order-close", order.pk))
    )


# --- Receiving -------------------------------------------------------------------------------------------------
def receive(client, line, rows, **changes):
    address = reverse("receive", query={"line": line.pk, "rows": rows})
    form = client.get(address).context["form"]
    stands = {field.html_name: "" if field.value() in (None, False) else str(field.value()) for field in form}
    return client.post(address, stands | {"rows": str(rows)} | changes)


def test_what_came_is_taken_in_with_all_that_the_line_knows(as_owner, order):
    line = order.lines.get()
    text = said(as_owner, receive(as_owner, line, 2, lot="A17"))
    assert "2 of 3 came, 1 awaited" in text
    cone = Cone.objects.first()
    assert (cone.order_line, cone.price_cents, cone.labelled_mg, cone.lot.name) == (
        line,
        1850,
        454_000,
        "A17",
    )
    assert cone.delivery.supplier == order.supplier
    text = said(as_owner, receive(as_owner, line, 1))
    assert "3 of 3 came" in text and "nothing more is awaited" in text


def test_the_form_knows_how_many_are_awaited(as_owner, order):
    answer = as_owner.get(reverse("receive", query={"line": order.lines.get().pk}))
    assert answer.context["rows"] == 3


def test_a_form_sent_twice_puts_nothing_on_the_shelf_the_second_time(as_owner, order):
    line = order.lines.get()
    receive(as_owner, line, 1)
    answer = receive(as_owner, line, 1, came="0")
    assert answer.status_code == 422
    assert "Of this line 1 came already" in Read(answer).text
    assert Cone.objects.count() == 1
    assert Read(answer).fields["came"]["value"] == "1"


def test_more_than_was_ordered_and_another_lot_are_asked_about(as_owner, owner):
    lot = make_cone(lot="2207", by=owner).lot
    line = make_order(lot.shade, number=1, by=owner, lot_wish=OrderLot.MATCH, lot_id=lot.pk).lines.get()
    answer = receive(as_owner, line, 2)
    assert "1 more than was ordered" in refused(answer)["is_more"][0]
    answer = receive(as_owner, line, 2, is_more="on", lot="2211")
    assert "Lot 2207 was asked for" in refused(answer)["is_own_lot"][0]
    assert Cone.objects.count() == 1
    said(as_owner, receive(as_owner, line, 2, is_more="on", is_own_lot="on", lot="2211"))
    assert OrderLine.objects.get().came == 2


def test_a_straggler_is_received_after_the_order_was_done(as_owner, order):
    line = order.lines.get()
    receive(as_owner, line, 3)
    page = read(as_owner, "order-page", order.pk)
    assert page.links["More came of Spruce"] == reverse("receive") + f"?line={line.pk}&rows=1"
    assert refused(receive(as_owner, line, 1))["is_more"]
    assert "1 more than ordered" in said(as_owner, receive(as_owner, line, 1, is_more="on"))


def test_a_price_in_another_currency_is_not_taken_over(as_owner, owner, spruce):
    abroad = make_supplier("Abroad", currency="USD")
    line = make_order(spruce, supplier=abroad, by=owner, price_cents=1850).lines.get()
    page = read(as_owner, "receive", line=line.pk)
    assert "The order is in USD (18.50 USD each), and nothing is converted." in page.text
    assert not page.fields["price"].get("value")
    receive(as_owner, line, 1)
    assert Cone.objects.get().price_cents is None
    assert "Prices are in USD" in read(as_owner, "order-page", line.order_id).text


def test_animal_fibre_is_offered_to_be_kept_apart(as_owner, owner):
    wool = make_shade("Heather", yarn=make_yarn("Wool", fibres={"merino wool": 100}))
    line = make_order(wool, by=owner).lines.get()
    until = (timezone.localdate() + timedelta(days=14)).isoformat()
    assert read(as_owner, "receive", line=line.pk).fields["apart_until"]["value"] == until
    receive(as_owner, line, 1)
    assert Cone.objects.get().condition == "quarantine"


def test_keeping_goes_on_to_the_next_line(as_owner, order, owner):
    rust = make_shade("Rust")
    second = OrderLine.objects.create(order=order, shade=rust, mass_mg=100 * GRAM, number=4)
    answer = receive(as_owner, order.lines.first(), 3, again="1")
    assert answer.url == reverse("receive", query={"line": second.pk, "rows": 4})


def test_a_line_of_an_order_that_was_not_sent_cannot_be_received(as_owner, owner):
    line = make_order(by=owner, sent=False).lines.get()
    assert as_owner.get(reverse("receive", query={"line": line.pk})).status_code == 404


def test_a_cone_goes_back_and_the_order_awaits_it_again(as_owner, order):
    receive(as_owner, order.lines.get(), 3)
    cone = Cone.objects.first()
    said(as_owner, send(as_owner, "cone-retire", cone.pk, reason="wet", is_awaited="on"))
    assert "2 of 3 came, 1 awaited" in read(as_owner, "order-page", order.pk).text


# --- On order, everywhere ------------------------------------------------------------------------------------------
def test_what_is_on_order_is_seen_on_the_shelf_the_shade_and_in_the_search(as_owner, order):
    due = order.due_on
    page = read(as_owner, "shade-page", order.lines.get().shade_id)
    assert "3 cones of 454 g" in page.text
    assert f"due {due.day} {due:%B}, from Example Yarns" in page.text
    assert page.links[str(order)] == reverse("order-page", args=[order.pk])
    assert any("on order" in label for label in page.labels)
    assert "1,362 g on order" in read(as_owner, "find", q="spruce").text
    assert "(1,362 g)" in read(as_owner, "yarn").text


def test_the_table_of_shades_has_what_is_on_order(as_owner, order):
    answer = as_owner.get(reverse("export-table", args=["shades.csv"]))
    first, row = b"".join(answer.streaming_content).decode("utf-8-sig").splitlines()
    assert dict(zip(first.split(","), row.split(","), strict=True))["on order (g)"] == "1362"


# --- Shopping lists --------------------------------------------------------------------------------------------------
def test_a_shopping_list_says_what_a_letter_needs(as_viewer, owner, studio):
    lot = make_cone(lot="2207", by=owner).lot
    day = timezone.localdate() + timedelta(days=30)
    order = make_order(
        lot.shade,
        by=owner,
        sent=False,
        price_cents=1850,
        lot_wish=OrderLot.MATCH,
        lot_id=lot.pk,
        need_on=day,
        reason="for the secret present",
    )
    printed = read(as_viewer, "shopping-list").text
    assert "Example Yarns" in printed and "for the secret present" in printed and "8/2" in printed
    file = reverse("shopping-file", args=["shopping-list.txt"], query={"order": order.pk})
    text = as_viewer.get(file).content.decode()
    assert "- 2 cones of 454 g: Spruce, Plain cotton, 8/2" in text
    assert f"the same lot as 2207; needed by {day.day} {day:%B %Y}; 18.50 EUR each" in text
    assert "secret" not in text
    assert "2 cones of 454 g" in read(as_viewer, "shopping-text", order=order.pk).text


def test_a_shopping_list_as_csv_runs_no_formula(as_viewer, owner):
    shade = make_shade("=cmd()", yarn=make_yarn("@yarn"))
    make_order(shade, by=owner, sent=False, reason="+1+1")
    answer = as_viewer.get(reverse("shopping-file", args=["shopping-list.csv"]))
    _, row = b"".join(answer.streaming_content).decode("utf-8-sig").splitlines()
    assert "'=cmd()" in row and "'@yarn" in row and "'+1+1" in row


def test_there_is_no_other_file(as_viewer, owner):
    assert as_viewer.get("/buying/list/other.txt").status_code == 404
    assert as_viewer.get(reverse("shopping-list", query={"order": 77})).status_code == 404
    assert "No order is being written" in read(as_viewer, "shopping-list").text


# --- Who sees what, and at what cost -------------------------------------------------------------------------------
def test_a_viewer_is_offered_no_step(as_viewer, order):
    for name, args in (
        ("order-page", [order.pk]),
        ("orders", []),
        ("supplier-page", [order.supplier_id]),
        ("suppliers", []),
    ):
        page = read(as_viewer, name, *args)
        assert not {"Edit", "Retire", "Write an order", "Await nothing more"} & set(page.links)


def more_of(order, shade, number, owner):
    """A further put-up with a break, line, order under way, and supplier with an order that is being written."""
    yarn, mass = shade.yarn, (number + 1) * GRAM
    put_up = PutUp.objects.create(supplier=order.supplier, yarn=yarn, mass_mg=mass, price_cents=5)
    PriceBreak.objects.create(put_up=put_up, number=3, price_cents=4)
    OrderLine.objects.create(order=order, shade=shade, put_up=put_up, mass_mg=1, number=2)
    make_order(shade, by=owner)
    make_order(make_shade(f"Shade {number}"), by=owner, sent=False, supplier=make_supplier(f"S{number}"))


def test_no_page_asks_more_with_more_rows(as_owner, owner, order):
    addresses = [
        reverse("suppliers"),
        reverse("supplier-page", args=[order.supplier_id]),
        reverse("orders"),
        reverse("order-page", args=[order.pk]),
        reverse("shopping-list"),
        reverse("shade-page", args=[order.lines.get().shade_id]),
    ]
    make_order(by=owner, sent=False)
    shade = order.lines.get().shade
    more_of(order, shade, 99, owner)
    before = [queries(as_owner, address) for address in addresses]
    for number in range(4):
        more_of(order, shade, number, owner)
    # Besides studio, session and person (3): suppliers and retired ones; the supplier, put-ups, breaks, three lists of
    # orders; four lists and a count of orders; the order, lines, put-ups with breaks, deliveries; orders, lines, breaks
    assert [queries(as_owner, address) for address in addresses] == before
    assert max(before) <= 14
