"""Moving a later project's reservation: one step, never more than is lacking, and both books right afterwards."""

from datetime import date

import pytest

from projects.models import Project
from projects.services.moving import move_reservation
from projects.services.planning import put_away
from projects.services.reserving import release_project, reserve_project
from stash.models import Reservation, Shortage
from stash.services.refusal import Refusal
from stash.services.using import take_as_wound
from tests.books import assert_books_agree
from tests.factories import make_cone, make_shade
from tests.projects.factories import YARD
from tests.projects.shortages import mats, mats_plan, yard_yarn

pytestmark = pytest.mark.django_db


@pytest.fixture
def shades(owner):
    yarn = yard_yarn()
    found = {"A": make_shade("Spruce", yarn), "B": make_shade("Rust", yarn)}
    make_cone(found["A"], grams=200, lot="1", by=owner)
    make_cone(found["B"], grams=70, lot="1", by=owner)
    return found


@pytest.fixture
def first(shades):
    return mats(shades, name="First", need_on=date(2031, 3, 1))


@pytest.fixture
def later(shades):
    """Holds 30 yd of Rust of the 70; 40 yd are left of the 50 that the first needs."""
    project = mats(shades, name="Later", plan=mats_plan(pieces=3), need_on=date(2031, 5, 1))
    reserve_project(pk=project.pk)
    project.refresh_from_db()
    return project


def held_mg(project: Project, shade) -> int:
    project.refresh_from_db()
    return sum(
        Reservation.objects.filter(claim=project.claim_id, cone__shade=shade).values_list(
            "mass_mg", flat=True
        )
    )


def test_the_first_gets_what_it_lacks_and_the_later_one_keeps_the_rest(first, later, shades):
    moved = move_reservation(pk=first.pk, from_claim=later.claim_id)
    assert held_mg(first, shades["B"]) == 50_000
    assert held_mg(later, shades["B"]) == 20_000
    assert moved.given_um == {"Rust": 10 * YARD}
    assert moved.lacking_um == {"Rust": 10 * YARD}
    assert_books_agree()


def test_what_the_later_one_then_lacks_is_noted_as_its_shortage(first, later, shades):
    move_reservation(pk=first.pk, from_claim=later.claim_id)
    short = Shortage.objects.get(claim=later.claim_id)
    assert (short.shade, short.length_um, short.mass_mg) == (shades["B"], 10 * YARD, 10_000)
    assert not Shortage.objects.filter(claim=first.claim_id).exists()


def test_what_it_holds_of_other_shades_stays_line_for_line(first, later, shades):
    before = list(Reservation.objects.filter(claim=later.claim_id, cone__shade=shades["A"]).values())
    move_reservation(pk=first.pk, from_claim=later.claim_id)
    assert list(Reservation.objects.filter(claim=later.claim_id, cone__shade=shades["A"]).values()) == before


def test_what_the_first_held_before_counts_for_it(first, later, shades):
    reserve_project(pk=first.pk)
    assert held_mg(first, shades["B"]) == 40_000
    move_reservation(pk=first.pk, from_claim=later.claim_id)
    assert held_mg(first, shades["B"]) == 50_000
    assert held_mg(later, shades["B"]) == 20_000
    assert_books_agree()


def test_yarn_is_not_moved_for_a_buffer(later, shades):
    first = mats(shades, name="First", plan=mats_plan(pieces=4, weft_buffer=1), need_on=date(2031, 3, 1))
    with pytest.raises(Refusal, match="needed any more"):
        move_reservation(pk=first.pk, from_claim=later.claim_id)
    assert held_mg(later, shades["B"]) == 30_000
    assert_books_agree()


def test_one_that_goes_before_gives_nothing(first, shades):
    earlier = mats(shades, name="Earlier", plan=mats_plan(pieces=3), need_on=date(2031, 2, 1), rank=5)
    reserve_project(pk=earlier.pk)
    earlier.refresh_from_db()
    with pytest.raises(Refusal, match="goes before"):
        move_reservation(pk=first.pk, from_claim=earlier.claim_id)


def test_one_of_lower_rank_gives_though_it_winds_before(first, shades):
    lower = mats(shades, name="Lower", plan=mats_plan(pieces=3), need_on=date(2031, 2, 1), rank=9)
    reserve_project(pk=lower.pk)
    lower.refresh_from_db()
    assert move_reservation(pk=first.pk, from_claim=lower.claim_id).given_um == {"Rust": 10 * YARD}


def test_yarn_that_is_in_use_does_not_move(first, later, owner):
    take_as_wound(claim_id=later.claim_id, by=owner)
    with pytest.raises(Refusal, match="in use"):
        move_reservation(pk=first.pk, from_claim=later.claim_id)
    assert_books_agree()


def test_a_reservation_that_was_released_meanwhile_gives_nothing(first, later):
    release_project(pk=later.pk)
    put_away(pk=later.pk)
    with pytest.raises(Refusal, match="holds no yarn"):
        move_reservation(pk=first.pk, from_claim=later.claim_id)


def test_where_the_shelf_suffices_by_now_nothing_moves(first, later, shades, owner):
    make_cone(shades["B"], grams=50, lot="1", by=owner)
    with pytest.raises(Refusal, match="needed any more"):
        move_reservation(pk=first.pk, from_claim=later.claim_id)
    assert held_mg(later, shades["B"]) == 30_000


@pytest.mark.parametrize("version", [0, 7])
def test_a_plan_that_was_changed_meanwhile_moves_nothing(first, later, version):
    with pytest.raises(Refusal, match="another window"):
        move_reservation(pk=first.pk, from_claim=later.claim_id, version=version)
