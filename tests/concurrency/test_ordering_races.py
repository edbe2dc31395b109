"""Two windows at one order: what comes is counted once, an order goes out once, nobody orders where nobody sells."""

from functools import partial

import pytest
from django.utils import timezone

from stash.models import Cone, Order, OrderLine, Person, Supplier
from stash.services import deliveries
from stash.services.deliveries import Package, receive_several
from stash.services.ordering import NewLine, cancel_line, mark_ordered, write_order
from stash.services.refusal import ChangedMeanwhile, Refusal
from stash.services.suppliers import retire_supplier
from stash.services.taking_in import CameMeanwhile, OfOrder
from tests.books import assert_books_agree
from tests.concurrency.racing import race, sorted_out
from tests.factories import GRAM, PersonFactory, make_order, make_shade, make_supplier

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def by() -> Person:
    return PersonFactory(username="stock")


def receive(line: OrderLine, by: Person, came: int = 0) -> None:
    receive_several(
        yarn_id=0,
        shade="",
        packages=[Package(1, labelled_mg=454 * GRAM)],
        by=by,
        of_order=OfOrder(line.pk, came),
    )


def test_of_several_windows_that_receive_the_same_cone_one_is_served(by):
    line = make_order(number=4, by=by).lines.get()
    results = race([partial(receive, line, by)] * 4)
    assert sorted_out(results, CameMeanwhile) == (1, 3)
    assert (OrderLine.objects.get().came, Cone.objects.count()) == (1, 1)
    assert_books_agree()


def test_without_the_lock_all_of_them_are_served_and_the_count_is_lost(by, monkeypatch):
    """The twin: the line is read before any of them writes, as it would be without the lock."""
    line = make_order(number=4, by=by).lines.get()
    stale = [(Order.objects.get(), OrderLine.objects.select_related("shade", "lot").get()) for _ in range(4)]
    monkeypatch.setattr(deliveries, "lock_line", lambda line_id: stale.pop())
    results = race([partial(receive, line, by)] * 4)
    assert sorted_out(results, Refusal) == (4, 0)
    assert (OrderLine.objects.get().came, Cone.objects.count()) == (1, 4)


def test_an_order_goes_out_once(by):
    order = make_order(by=by, sent=False)
    send = partial(mark_ordered, pk=order.pk, version=1, on=timezone.localdate())
    assert sorted_out(race([send] * 3), ChangedMeanwhile) == (1, 2)


def test_what_comes_while_it_is_cancelled_is_one_or_the_other(by):
    for _ in range(3):
        order = make_order(number=1, by=by)
        line = order.lines.get()
        cancel = partial(cancel_line, pk=order.pk, line_id=line.pk, version=order.version, number=1)
        results = race([partial(receive, line, by), cancel])
        assert sorted_out(results, Refusal)[0] >= 1
        line.refresh_from_db()
        assert line.came + line.cancelled == 1
        assert Order.objects.get(pk=order.pk).closed_at is not None


def test_a_supplier_is_retired_or_ordered_from(by):
    shade = make_shade("Spruce")
    for number in range(3):
        supplier = make_supplier(f"Example {number}")
        lines = [NewLine(shade.pk, 1, 454 * GRAM)]
        order = partial(write_order, supplier_id=supplier.pk, lines=lines, by=by)
        results = race([order, partial(retire_supplier, pk=supplier.pk)])
        assert sorted_out(results, Refusal) == (1, 1)
        retired = Supplier.objects.get(pk=supplier.pk).retired_at is not None
        assert retired != Order.objects.filter(supplier=supplier).exists()
