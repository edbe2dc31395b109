"""Orders: written, sent, cancelled, closed."""

from datetime import timedelta

import pytest
from django.utils import timezone

from stash.models import Lot, Order, OrderLine, OrderLot, PutUp
from stash.services.cones import retire_cone
from stash.services.deliveries import Package, receive_several
from stash.services.locking import lock_shades
from stash.services.ordering import (
    NewLine,
    add_line,
    cancel_line,
    change_line,
    change_order,
    close_order,
    discard_order,
    mark_ordered,
    remove_line,
    take_back_ordered,
    write_order,
)
from stash.services.refusal import ChangedMeanwhile, Refusal
from stash.services.taking_in import OfOrder
from tests.factories import GRAM, make_cone, make_order, make_shade, make_supplier, make_yarn

pytestmark = pytest.mark.django_db


def today():
    return timezone.localdate()


def refusal(call, **said):
    with pytest.raises(Refusal) as caught:
        call(**said)
    return caught.value


@pytest.fixture
def spruce(studio):
    return make_shade("Spruce")


@pytest.fixture
def supplier(studio):
    return make_supplier("Example Yarns", lead_days=18, late_days=5)


@pytest.fixture
def line(spruce):
    return NewLine(spruce.pk, 3, 454 * GRAM, price_cents=1850)


@pytest.fixture
def order(supplier, line, owner):
    return write_order(supplier_id=supplier.pk, lines=[line], by=owner)


@pytest.fixture
def sent(order):
    return mark_ordered(pk=order.pk, version=1, on=today())


def test_an_order_is_written_with_its_lines_and_the_studios_currency(order):
    (row,) = order.lines.all()
    assert (row.number, row.mass_mg, row.price_cents, row.awaited) == (3, 454 * GRAM, 1850, 3)
    assert (order.currency, order.ordered_on, order.version) == ("EUR", None, 1)
    assert list(OrderLine.objects.awaited()) == []


def test_it_is_due_after_the_suppliers_lead_time(sent):
    assert sent.due_on == today() + timedelta(days=18)
    assert sent.late_days == 5
    assert OrderLine.objects.awaited().count() == 1


def test_without_a_lead_time_no_day_is_guessed(line, owner):
    order = write_order(supplier_id=make_supplier("Unknown times").pk, lines=[line], by=owner)
    assert mark_ordered(pk=order.pk, version=1, on=today()).due_on is None


@pytest.mark.parametrize(
    ("days", "words"),
    [(1, "still to come"), (-800, "more than two years ago"), (-3, "written here on")],
)
def test_a_day_on_which_it_cannot_have_gone_out_is_refused(order, days, words):
    error = refusal(mark_ordered, pk=order.pk, version=1, on=today() + timedelta(days=days))
    assert error.field == "on"
    assert words in error.message
    assert Order.objects.get().ordered_on is None


def test_a_day_before_it_was_written_is_kept_when_that_is_said(order):
    kept = mark_ordered(pk=order.pk, version=1, on=today() - timedelta(days=3), was_sooner=True)
    assert kept.due_on == today() + timedelta(days=15)


@pytest.mark.parametrize(("days", "words"), [(-1, "comes on that day or later"), (800, "two years after")])
def test_a_due_day_that_cannot_be_is_refused(order, days, words):
    due_on = today() + timedelta(days=days)
    error = refusal(mark_ordered, pk=order.pk, version=1, on=today(), due_on=due_on)
    assert error.field == "due_on"
    assert words in error.message


def test_a_new_due_day_that_is_over_is_refused_and_a_coming_one_kept(order):
    sent = mark_ordered(pk=order.pk, version=1, on=today() - timedelta(days=9), was_sooner=True)
    over = today() - timedelta(days=1)
    error = refusal(change_order, pk=sent.pk, version=2, due_on=over)
    assert (error.field, "is over" in error.message) == ("due_on", True)
    kept = change_order(pk=sent.pk, version=2, due_on=today() + timedelta(days=2), note="by phone")
    assert (kept.due_on, kept.note) == (today() + timedelta(days=2), "by phone")


def test_an_order_goes_out_once(sent):
    assert "already" in refusal(mark_ordered, pk=sent.pk, version=2, on=today()).message


def test_an_empty_order_does_not_go_out(supplier, owner):
    empty = write_order(supplier_id=supplier.pk, lines=[], by=owner)
    assert "Nothing stands" in refusal(mark_ordered, pk=empty.pk, version=1, on=today()).message


def test_carriage_follows_the_suppliers_terms(spruce, owner):
    terms = make_supplier("Terms", carriage_cents=650, carriage_free_cents=5_000)

    def carriage(number):
        line = NewLine(spruce.pk, number, 454 * GRAM, price_cents=1850)
        order = write_order(supplier_id=terms.pk, lines=[line], by=owner)
        return mark_ordered(pk=order.pk, version=1, on=today()).carriage_cents

    assert carriage(2) == 650
    assert carriage(3) == 0


def test_what_was_typed_for_carriage_stands(order):
    assert mark_ordered(pk=order.pk, version=1, on=today(), carriage_cents=420).carriage_cents == 420


def test_a_line_that_cannot_be_is_refused_by_its_number(supplier, spruce, owner):
    lines = [NewLine(spruce.pk, 1, 454 * GRAM), NewLine(spruce.pk, 0, 454 * GRAM)]
    assert refusal(write_order, supplier_id=supplier.pk, lines=lines, by=owner).field == "number-2"
    assert not Order.objects.exists()


def test_a_put_up_must_be_one_of_this_supplier_and_yarn(supplier, spruce, owner):
    other = PutUp.objects.create(supplier=make_supplier("Other"), yarn=spruce.yarn, mass_mg=454 * GRAM)
    line = NewLine(spruce.pk, 1, 454 * GRAM, put_up_id=other.pk)
    error = refusal(write_order, supplier_id=supplier.pk, lines=[line], by=owner)
    assert (error.field, "does not sell Spruce" in error.message) == ("put_up-1", True)


def test_fewer_than_are_sold_at_least_are_refused(supplier, spruce, owner):
    put_up = PutUp.objects.create(supplier=supplier, yarn=spruce.yarn, mass_mg=454 * GRAM, least=3)
    line = NewLine(spruce.pk, 2, 454 * GRAM, put_up_id=put_up.pk)
    error = refusal(write_order, supplier_id=supplier.pk, lines=[line], by=owner)
    assert (error.field, error.message) == ("number-1", "At least 3 of one shade are sold at a time.")


def test_a_lot_to_match_is_one_of_the_shade(supplier, spruce, owner):
    cone = make_cone(spruce, lot="2207", by=owner)
    stranger = Lot.objects.create(shade=make_shade("Rust"), name="1")
    for lot_id in (None, stranger.pk):
        line = NewLine(spruce.pk, 1, 454 * GRAM, lot_wish=OrderLot.MATCH, lot_id=lot_id)
        assert refusal(write_order, supplier_id=supplier.pk, lines=[line], by=owner).field == "lot-1"
    line = NewLine(spruce.pk, 1, 454 * GRAM, lot_wish=OrderLot.MATCH, lot_id=cone.lot_id)
    assert write_order(supplier_id=supplier.pk, lines=[line], by=owner).lines.get().lot == cone.lot


def test_lines_change_while_it_is_written_and_stand_once_it_is_sent(order, line, spruce):
    more = add_line(pk=order.pk, version=1, line=line)
    change_line(pk=order.pk, line_id=more.pk, version=2, line=NewLine(spruce.pk, 7, 100 * GRAM, form="skein"))
    assert order.lines.get(pk=more.pk).number == 7
    remove_line(pk=order.pk, line_id=more.pk, version=3)
    mark_ordered(pk=order.pk, version=4, on=today())
    for call, said in (
        (add_line, {"line": line}),
        (change_line, {"line": line, "line_id": order.lines.get().pk}),
        (remove_line, {"line_id": order.lines.get().pk}),
        (discard_order, {}),
    ):
        assert "went out on" in refusal(call, pk=order.pk, version=5, **said).message


def test_a_need_day_that_is_over_is_refused_when_it_is_typed(order, spruce):
    late = NewLine(spruce.pk, 1, 454 * GRAM, need_on=today() - timedelta(days=1))
    assert refusal(add_line, pk=order.pk, version=1, line=late).field == "need_on"


def test_a_job_that_runs_late_is_ordered_for_all_the_same(order, spruce):
    late = NewLine(spruce.pk, 1, 454 * GRAM, need_on=today() - timedelta(days=1))
    assert add_line(pk=order.pk, version=1, line=late, check_day=False).need_on == late.need_on


def test_two_who_change_one_order_do_not_overwrite_each_other(order, line):
    add_line(pk=order.pk, version=1, line=line)
    with pytest.raises(ChangedMeanwhile):
        add_line(pk=order.pk, version=1, line=line)
    assert order.lines.count() == 2


def test_an_order_that_is_being_written_is_given_up_with_its_lines(order):
    discard_order(pk=order.pk, version=1)
    assert not Order.objects.exists()
    assert not OrderLine.objects.exists()


def test_an_order_in_another_currency_than_its_suppliers_is_not_sent(order, supplier):
    supplier.currency = "USD"
    supplier.save()
    error = refusal(mark_ordered, pk=order.pk, version=1, on=today())
    assert "begun in EUR" in error.message
    assert "USD now" in error.message


def test_what_is_cancelled_is_awaited_no_more_and_may_be_again(sent):
    line = cancel_line(pk=sent.pk, line_id=sent.lines.get().pk, version=2, number=1)
    assert line.awaited == 2
    error = refusal(cancel_line, pk=sent.pk, line_id=line.pk, version=3, number=4)
    assert (error.field, "at most 3" in error.message) == ("cancelled", True)
    cancel_line(pk=sent.pk, line_id=line.pk, version=3, number=3)
    assert Order.objects.get().closed_at is not None
    cancel_line(pk=sent.pk, line_id=line.pk, version=4, number=0)
    assert Order.objects.get().closed_at is None


def test_closing_cancels_what_has_not_come(sent):
    close_order(pk=sent.pk, version=2)
    line = sent.lines.get()
    assert (line.cancelled, line.awaited) == (3, 0)
    assert "any more" in refusal(close_order, pk=sent.pk, version=3).message


def test_an_order_that_did_not_go_out_is_written_on(sent):
    assert take_back_ordered(pk=sent.pk, version=2).due_on is None
    discard_order(pk=sent.pk, version=3)


def test_an_order_of_which_something_was_cancelled_did_go_out(sent):
    cancel_line(pk=sent.pk, line_id=sent.lines.get().pk, version=2, number=1)
    assert "did go out" in refusal(take_back_ordered, pk=sent.pk, version=3).message


def test_carriage_by_terms_is_reckoned_anew_once_it_is_written_again_and_a_typed_one_stays(line, owner):
    terms = make_supplier("Terms", carriage_cents=650)
    for typed, left in ((None, None), (420, 420)):
        order = write_order(supplier_id=terms.pk, lines=[line], by=owner)
        mark_ordered(pk=order.pk, version=1, on=today(), carriage_cents=typed)
        assert take_back_ordered(pk=order.pk, version=2).carriage_cents == left


def test_an_order_of_which_all_that_came_went_back_did_go_out(sent, owner):
    said = OfOrder(sent.lines.get().pk, came=0)
    package = Package(1, labelled_mg=454 * GRAM)
    _, (cone,) = receive_several(yarn_id=0, shade="", packages=[package], by=owner, of_order=said)
    retire_cone(pk=cone.pk, by=owner, reason="wet, goes back", is_awaited=True)
    assert "A parcel of this order came" in refusal(take_back_ordered, pk=sent.pk, version=None).message
    Order.objects.update(ordered_on=None, due_on=None)
    assert "A parcel of this order came" in refusal(discard_order, pk=sent.pk, version=None).message


def test_shades_are_locked_by_yarn_and_then_by_key(studio):
    yarns = [make_yarn("First"), make_yarn("Second")]
    shades = [make_shade(f"Shade {name}", yarns[at]) for name, at in enumerate((1, 0, 1, 0))]
    assert list(lock_shades(shade.pk for shade in shades)) == [shades[at].pk for at in (1, 3, 0, 2)]
    assert refusal(lock_shades, shade_ids=[shades[0].pk, shades[-1].pk + 1]).field == "shade"


def test_a_retired_supplier_is_not_ordered_from(supplier, line, owner):
    supplier.retired_at = timezone.now()
    supplier.save()
    assert refusal(write_order, supplier_id=supplier.pk, lines=[line], by=owner).field == "supplier"


def test_a_retired_shade_is_not_ordered(supplier, owner):
    gone = make_shade("Gone")
    gone.retired_at = timezone.now()
    gone.save()
    line = NewLine(gone.pk, 1, 454 * GRAM)
    assert refusal(write_order, supplier_id=supplier.pk, lines=[line], by=owner).field == "shade-1"


def test_the_factory_makes_an_order_under_way(owner):
    order = make_order(by=owner)
    assert order.lines.get().awaited == 2
