"""Several windows write the same proposed order: one does, and the others are told so."""

from functools import partial

import pytest

from projects.buying import writing
from projects.buying.writing import Chosen, write_proposed
from stash.models import Order, OrderLine, Person
from stash.services.ordering import NewLine
from stash.services.refusal import Refusal
from tests.concurrency.racing import race, sorted_out
from tests.factories import GRAM, PersonFactory, make_order, make_shade, make_supplier

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def by() -> Person:
    return PersonFactory(username="stock")


def proposed(by: Person):
    shade, supplier = make_shade(), make_supplier(lead_days=18)
    chosen = [Chosen(NewLine(shade.pk, 2, 454 * GRAM), seen=0)]
    return partial(write_proposed, supplier_id=supplier.pk, chosen=chosen, by=by), supplier


def test_the_same_proposal_is_written_once(by, studio):
    write, _ = proposed(by)
    assert sorted_out(race([write] * 4), Refusal) == (1, 3)
    assert (Order.objects.count(), OrderLine.objects.count()) == (1, 1)


def test_it_is_written_once_into_an_order_that_is_begun(by, studio):
    write, supplier = proposed(by)
    make_order(make_shade("Other"), supplier=supplier, by=by, sent=False)
    assert sorted_out(race([write] * 4), Refusal) == (1, 3)
    assert (Order.objects.count(), OrderLine.objects.count()) == (1, 2)


def test_without_the_look_at_what_was_ordered_since_all_of_them_write(by, studio, monkeypatch):
    """The twin."""
    monkeypatch.setattr(writing, "_refuse_what_was_ordered_since", lambda chosen: None)
    monkeypatch.setattr(writing, "_refuse_a_second_order", lambda supplier_id: None)
    write, _ = proposed(by)
    assert sorted_out(race([write] * 4), Refusal) == (4, 0)
    assert OrderLine.objects.count() == 4
