"""What comes of an order: counted at its line, in parts, never twice unseen."""

from datetime import timedelta

import pytest
from django.utils import timezone

from stash.models import Condition, Cone, Delivery, Order, OrderLine, OrderLot, Shade
from stash.services import deliveries
from stash.services.books import check_books, rebuild_orders
from stash.services.cones import bring_back_cone, retire_cone
from stash.services.deliveries import Package, receive_several
from stash.services.locking import lock_yarn
from stash.services.ordering import cancel_line
from stash.services.refusal import Refusal
from stash.services.taking_in import CameMeanwhile, OfOrder
from stash.services.yarns import retire_shade
from tests.factories import GRAM, make_cone, make_order, make_shade

pytestmark = pytest.mark.django_db


@pytest.fixture
def line(owner) -> OrderLine:
    return make_order(number=3, by=owner).lines.get()


def take_in(line, owner, number=1, came=None, lot="", more=False, own=False, **said):
    came = OrderLine.objects.get(pk=line.pk).came if came is None else came
    return receive_several(
        yarn_id=0,
        shade="",
        packages=[Package(at, labelled_mg=454 * GRAM) for at in range(1, number + 1)],
        by=owner,
        lot=lot,
        of_order=OfOrder(line.pk, came, is_more=more, is_own_lot=own),
        **said,
    )


def refusal(*args, **said):
    with pytest.raises(Refusal) as caught:
        take_in(*args, **said)
    return caught.value


def test_cones_come_with_their_line_and_the_orders_delivery(line, owner):
    delivery, cones = take_in(line, owner, 2)
    line.refresh_from_db()
    assert (line.came, line.awaited) == (2, 1)
    assert {cone.order_line for cone in cones} == {line}
    assert (delivery.order, delivery.supplier) == (line.order, line.order.supplier)
    assert delivery.closed_at is not None
    assert cones[0].shade == line.shade


def test_what_comes_on_one_day_is_one_delivery(line, owner):
    assert take_in(line, owner)[0] == take_in(line, owner)[0]
    earlier = timezone.localdate() - timedelta(days=2)
    Order.objects.update(ordered_on=earlier)
    assert take_in(line, owner, received_on=earlier)[0].received_on == earlier
    assert Delivery.objects.count() == 2


def test_an_order_is_done_when_the_last_cone_came(line, owner):
    take_in(line, owner, 2)
    assert Order.objects.get().closed_at is None
    take_in(line, owner)
    assert Order.objects.get().closed_at is not None


def test_the_same_form_sent_twice_is_refused_with_what_came(line, owner):
    _, cones = take_in(line, owner, came=0)
    with pytest.raises(CameMeanwhile) as caught:
        take_in(line, owner, came=0)
    assert caught.value.came == 1
    assert cones[0].code in caught.value.message
    assert Cone.objects.count() == 1
    take_in(line, owner, came=1)
    assert OrderLine.objects.get().came == 2


def test_more_than_was_ordered_is_asked_about_and_kept_when_said(line, owner):
    error = refusal(line, owner, 4)
    assert error.field == "is_more"
    assert "3 were ordered, 0 came before, and these are 4: 1 more" in error.message
    assert not Cone.objects.exists()
    take_in(line, owner, 4, more=True)
    line.refresh_from_db()
    assert (line.came, line.awaited) == (4, 0)


def test_what_was_cancelled_and_came_all_the_same_is_cancelled_no_more(line, owner):
    cancel_line(pk=line.order_id, line_id=line.pk, version=None, number=2)
    take_in(line, owner, 2)
    line.refresh_from_db()
    assert (line.came, line.cancelled, line.awaited) == (2, 1, 0)


def test_another_lot_than_the_one_to_match_is_asked_about(owner):
    lot = make_cone(make_shade("Rust"), lot="2207", by=owner).lot
    line = make_order(lot.shade, by=owner, lot_wish=OrderLot.MATCH, lot_id=lot.pk).lines.get()
    error = refusal(line, owner, lot="2211")
    assert error.field == "is_own_lot"
    assert "Lot 2207 was asked for, and this is lot 2211" in error.message
    assert "of unknown lot" in refusal(line, owner).message
    take_in(line, owner, lot="2207")
    assert take_in(line, owner, lot="2211", own=True)[1][0].lot.name == "2211"


def test_a_second_lot_where_all_of_one_was_asked_for_is_asked_about(owner):
    line = make_order(by=owner, lot_wish=OrderLot.ONE).lines.get()
    take_in(line, owner, lot="A1")
    assert "what came before is lot A1, this is lot B2" in refusal(line, owner, lot="B2").message
    take_in(line, owner, lot="a1")


def test_nothing_comes_before_it_was_ordered_or_tomorrow(line, owner):
    day = timezone.localdate()
    assert refusal(line, owner, received_on=day - timedelta(days=1)).field == "received_on"
    assert refusal(line, owner, received_on=day + timedelta(days=1)).field == "received_on"
    assert refusal(line, owner, apart_until=day - timedelta(days=1)).field == "apart_until"


def test_nothing_comes_of_an_order_that_was_not_sent(owner):
    line = make_order(by=owner, sent=False).lines.get()
    assert "not sent yet" in refusal(line, owner).message


def test_animal_fibre_may_be_kept_apart(line, owner):
    until = timezone.localdate() + timedelta(days=14)
    (cone,) = take_in(line, owner, apart_until=until)[1]
    assert (cone.condition, cone.condition_on) == (Condition.QUARANTINE, until)


def test_a_cone_that_is_retired_counts_as_come_unless_it_goes_back(line, owner):
    _, (used, broken) = take_in(line, owner, 2)
    retire_cone(pk=used.pk, by=owner, reason="empty")
    assert OrderLine.objects.get().came == 2
    retire_cone(pk=broken.pk, by=owner, reason="wet, goes back", is_awaited=True)
    assert OrderLine.objects.get().came == 1
    assert check_books_of_orders() == []


def test_a_cone_that_was_to_go_back_and_stays_is_not_both_here_and_on_order(line, owner):
    _, (first, *_) = take_in(line, owner, 3)
    retire_cone(pk=first.pk, by=owner, reason="wet, goes back", is_awaited=True)
    assert bring_back_cone(pk=first.pk, by=owner).order_line == line
    assert (OrderLine.objects.get().came, Order.objects.get().closed_at is None) == (3, False)
    assert check_books_of_orders() == []


def test_a_cone_that_was_to_go_back_comes_as_none_of_the_orders_once_another_came_for_it(line, owner):
    _, (first, *_) = take_in(line, owner, 3)
    retire_cone(pk=first.pk, by=owner, reason="wet, goes back", is_awaited=True)
    take_in(line, owner)
    assert bring_back_cone(pk=first.pk, by=owner).order_line is None
    assert OrderLine.objects.get().came == 3
    assert check_books_of_orders() == []


def test_what_comes_is_of_the_lines_shade_though_that_is_renamed_meanwhile(line, owner, monkeypatch):
    def rename_then_lock(yarn_id):
        Shade.objects.filter(pk=line.shade_id).update(name="Fir", search="fir")
        return lock_yarn(yarn_id)

    monkeypatch.setattr(deliveries, "lock_yarn", rename_then_lock)
    (cone,) = take_in(line, owner)[1]
    assert (cone.shade, cone.shade.name, Shade.objects.count()) == (line.shade, "Fir", 1)


def test_nothing_comes_of_a_yarn_that_is_retired(line, owner):
    line.shade.yarn.retired_at = timezone.now()
    line.shade.yarn.save()
    assert "Bring the yarn back" in refusal(line, owner).message


def test_an_order_that_was_done_waits_again_for_what_went_back(line, owner):
    _, cones = take_in(line, owner, 3)
    assert Order.objects.get().closed_at is not None
    retire_cone(pk=cones[0].pk, by=owner, reason="wet, goes back", is_awaited=True)
    assert Order.objects.get().closed_at is None


def check_books_of_orders():
    return [fault.words for fault in check_books() if "guard" not in fault.words]


def test_the_books_find_what_came_of_no_cone_and_a_rebuilding_mends_it(line, owner):
    take_in(line, owner)
    OrderLine.objects.update(came=3)
    assert check_books_of_orders() == [
        f"Order {line.order_id} says that 3 of Spruce came; 1 cones were taken in for it."
    ]
    assert rebuild_orders() == 1
    assert OrderLine.objects.get().came == 1
    assert check_books_of_orders() == []
    assert rebuild_orders() == 0


def test_a_cone_of_another_shade_than_its_line_is_found(line, owner):
    _, (cone,) = take_in(line, owner)
    Cone.objects.filter(pk=cone.pk).update(shade=make_shade("Rust"))
    assert any("says Spruce" in words for words in check_books_of_orders())


def test_a_shade_that_is_on_order_is_not_retired(line):
    with pytest.raises(Refusal, match="which is open"):
        retire_shade(pk=line.shade_id)
