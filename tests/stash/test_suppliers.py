"""Suppliers with their terms, and their put-ups."""

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from stash.models import PutUp, Shade, Supplier
from stash.services.ordering import close_order, currency_of
from stash.services.refusal import ChangedMeanwhile, Refusal
from stash.services.studio import change_studio
from stash.services.suppliers import (
    NewPutUp,
    Terms,
    price_of,
    remove_supplier,
    retire_put_up,
    retire_supplier,
    save_put_up,
    save_supplier,
)
from tests.factories import GRAM, make_order, make_shade, make_supplier, make_yarn

pytestmark = pytest.mark.django_db


def refusal(call, **said):
    with pytest.raises(Refusal) as caught:
        call(**said)
    return caught.value


@pytest.fixture
def supplier(studio):
    return make_supplier(lead_days=18)


@pytest.fixture
def yarn(studio):
    return make_yarn()


def test_a_supplier_is_noted_with_the_terms(studio):
    terms = Terms(" Example Yarns ", 18, 5, 4_000, 650, 12_000, "usd", "Closed in August")
    made = save_supplier(terms=terms)
    assert (made.name, made.lead_days, made.late_days, made.currency) == ("Example Yarns", 18, 5, "USD")
    assert currency_of(made) == "USD"
    assert currency_of(save_supplier(terms=Terms("Other"))) == studio.currency


def test_two_suppliers_do_not_share_a_name(supplier):
    assert refusal(save_supplier, terms=Terms("EXAMPLE yarns")).field == "name"


@pytest.mark.parametrize(
    ("terms", "field"),
    [
        ({"minimum_cents": 0}, "minimum"),
        ({"carriage_free_cents": 0, "carriage_cents": 5}, "carriage_free"),
        ({"carriage_free_cents": 5_000}, "carriage"),
    ],
)
def test_terms_that_say_nothing_are_refused(studio, terms, field):
    assert refusal(save_supplier, terms=Terms("New", **terms)).field == field


def test_a_currency_has_three_letters(studio):
    with pytest.raises(ValidationError) as caught:
        save_supplier(terms=Terms("New", currency="EURO"))
    assert "currency" in caught.value.message_dict


def test_a_second_save_is_refused(supplier):
    save_supplier(terms=Terms("A", 3), pk=supplier.pk, version=1)
    with pytest.raises(ChangedMeanwhile):
        save_supplier(terms=Terms("B", 4), pk=supplier.pk, version=1)


def test_a_supplier_with_open_orders_is_neither_retired_nor_removed(supplier, owner):
    written, sent = make_order(by=owner, sent=False), make_order(by=owner)
    for step in (retire_supplier, remove_supplier):
        error = refusal(step, pk=supplier.pk)
        assert f"Orders {written.pk} and {sent.pk} of Example Yarns are still open" in error.message
    assert Supplier.objects.get().retired_at is None


def test_a_supplier_whose_orders_are_done_is_retired_but_not_removed(supplier, owner):
    close_order(pk=make_order(by=owner).pk, version=None)
    assert "Orders name Example Yarns" in refusal(remove_supplier, pk=supplier.pk).message
    assert retire_supplier(pk=supplier.pk).retired_at
    assert retire_supplier(pk=supplier.pk, back=True).retired_at is None


def test_a_supplier_whom_nothing_names_is_removed(supplier):
    assert remove_supplier(pk=supplier.pk) == "Example Yarns"
    assert not Supplier.objects.exists()


def test_the_currency_does_not_change_under_an_open_order(supplier, owner):
    order = make_order(by=owner)
    error = refusal(save_supplier, terms=Terms("Example Yarns", currency="USD"), pk=supplier.pk, version=1)
    assert error.field == "currency"
    assert f"Order {order.pk} is open in EUR" in error.message


def test_noted_amounts_take_another_currency_only_when_that_is_said(supplier, yarn):
    save_put_up(supplier_id=supplier.pk, put_up=NewPutUp(yarn.pk, 454 * GRAM, price_cents=1850))
    terms = Terms("Example Yarns", currency="USD")
    error = refusal(save_supplier, terms=terms, pk=supplier.pk, version=1)
    assert error.field == "currency"
    assert "prices of 1 put-up were noted in EUR" in error.message
    assert save_supplier(terms=terms, pk=supplier.pk, version=1, amounts_stay=True).currency == "USD"


def test_a_supplier_keeps_the_currency_of_noted_amounts_when_the_studios_changes(studio, supplier):
    priced = make_supplier("Priced", minimum_cents=4_000)
    change_studio(name=studio.name, measuring=studio.measuring, spelling=studio.spelling, currency="GBP")
    priced.refresh_from_db()
    supplier.refresh_from_db()
    assert (priced.currency, currency_of(supplier)) == ("EUR", "GBP")


# --- Put-ups -------------------------------------------------------------------------------------------------
def put_up(supplier, yarn, **said):
    return save_put_up(supplier_id=supplier.pk, put_up=NewPutUp(yarn.pk, 454 * GRAM, **said))


def test_one_costs_less_from_a_number_on(supplier, yarn):
    made = put_up(supplier, yarn, price_cents=1850, breaks=[(6, 1700), (12, 1600)])
    assert [price_of(made, number) for number in (1, 5, 6, 11, 12, 100)] == [
        1850,
        1850,
        1700,
        1700,
        1600,
        1600,
    ]
    assert price_of(put_up(supplier, make_yarn("Other")), 3) is None


@pytest.mark.parametrize(
    ("breaks", "field", "words"),
    [
        ([(6, 1900)], "break-1", "costs less than before"),
        ([(6, 1700), (6, 1600)], "break-2", "the one before begins at 6"),
        ([(2, 1700)], "break-1", "at least 3 are sold"),
        ([(1, 1700)], "break-1", "begins at two"),
    ],
)
def test_price_breaks_that_cannot_be_are_refused(supplier, yarn, breaks, field, words):
    error = refusal(
        save_put_up,
        supplier_id=supplier.pk,
        put_up=NewPutUp(yarn.pk, 454 * GRAM, price_cents=1850, least=3, breaks=breaks),
    )
    assert (error.field, words in error.message) == (field, True)


def test_a_break_wants_the_price_of_one(supplier, yarn):
    said = NewPutUp(yarn.pk, 454 * GRAM, breaks=[(6, 1700)])
    assert refusal(save_put_up, supplier_id=supplier.pk, put_up=said).field == "price"


def test_a_put_up_stands_once(supplier, yarn):
    made = put_up(supplier, yarn)
    twin = NewPutUp(yarn.pk, 454 * GRAM)
    assert refusal(save_put_up, supplier_id=supplier.pk, put_up=twin).field == "mass"
    retire_put_up(pk=made.pk)
    assert "sold no more" in refusal(save_put_up, supplier_id=supplier.pk, put_up=twin).message


def test_a_put_up_of_one_shade_names_one_of_its_yarn(supplier, yarn):
    stranger = make_shade("Rust", yarn=make_yarn("Other"))
    said = NewPutUp(yarn.pk, 454 * GRAM, shade_id=stranger.pk)
    assert refusal(save_put_up, supplier_id=supplier.pk, put_up=said).field == "shade"
    own = make_shade("Spruce", yarn=yarn)
    assert put_up(supplier, yarn, shade_id=own.pk).shade == own


def test_a_put_up_that_is_sold_no_more_is_offered_no_more(supplier, yarn):
    made = put_up(supplier, yarn)
    retire_put_up(pk=made.pk)
    assert not PutUp.objects.sold().exists()
    retire_put_up(pk=made.pk, back=True)
    assert PutUp.objects.sold().get() == made


# --- What is on order ------------------------------------------------------------------------------------------
def test_what_is_on_order_counts_at_the_keep_level(owner):
    shade = make_shade("Spruce", keep_mg=600 * GRAM)
    assert list(Shade.objects.at_or_below_keep()) == [shade]
    order = make_order(shade, number=2, by=owner, sent=False)
    assert list(Shade.objects.at_or_below_keep()) == [shade]
    order.ordered_on = timezone.localdate()
    order.save()
    assert list(Shade.objects.at_or_below_keep()) == []
    assert Shade.objects.with_stock().get().on_order_mg == 908 * GRAM
    order.lines.update(came=1)
    assert Shade.objects.with_stock().get().on_order_mg == 454 * GRAM
    assert list(Shade.objects.at_or_below_keep()) == [shade]
