"""Two projects reach for what a later one holds, while that one is released or reserved anew."""

from functools import partial

import pytest
from django.utils import timezone

from projects.services.moving import move_reservation
from projects.services.reserving import release_project, reserve_project
from stash.models import Cone, Reservation
from stash.services.refusal import Refusal
from tests.books import assert_books_agree
from tests.concurrency.racing import race, sorted_out
from tests.factories import make_cone, make_shade
from tests.projects.shortages import mats, yard_yarn

pytestmark = pytest.mark.django_db(transaction=True)


def later_and_firsts(firsts: int):
    """80 yd of Rust of which the later one holds 50, and so many before it that need 50 each."""
    yarn = yard_yarn()
    shades = {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn)}
    make_cone(shades["A"], grams=1_000, lot="1")
    make_cone(shades["B"], grams=80, lot="1")
    later = mats(shades, name="Later", rank=9)
    reserve_project(pk=later.pk)
    later.refresh_from_db()
    found = [
        mats(shades, name=f"First {number}", rank=1, need_on=timezone.localdate()) for number in range(firsts)
    ]
    return shades, later, found


def of_rust(shades, project) -> int:
    project.refresh_from_db()
    lines = Reservation.objects.filter(claim=project.claim_id, cone__shade=shades["B"])
    return sum(lines.values_list("mass_mg", flat=True))


def test_of_two_that_reach_for_it_at_once_each_gets_only_what_is_there():
    shades, later, firsts = later_and_firsts(2)
    results = race([partial(move_reservation, pk=one.pk, from_claim=later.claim_id) for one in firsts])
    sorted_out(results, Refusal)
    assert sorted(of_rust(shades, one) for one in firsts)[-1] == 50_000
    assert sum(of_rust(shades, one) for one in (*firsts, later)) <= 80_000
    assert not Cone.objects.undercut().exists()
    assert_books_agree()


def test_moving_against_reserving_and_releasing_locks_nobody_out():
    shades, later, (first,) = later_and_firsts(1)
    for _ in range(3):
        results = race(
            [
                partial(move_reservation, pk=first.pk, from_claim=later.claim_id),
                partial(reserve_project, pk=later.pk),
                partial(reserve_project, pk=first.pk),
                partial(release_project, pk=later.pk),
            ]
        )
        sorted_out(results, Refusal)
        assert of_rust(shades, first) + of_rust(shades, later) <= 80_000
        assert_books_agree()
        reserve_project(pk=later.pk)
