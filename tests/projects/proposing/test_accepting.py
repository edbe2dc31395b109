"""Accepting a proposal: whole or in part, in one step or not at all, and never what no longer fits."""

from dataclasses import replace

import pytest

from projects.models import Project, Stage
from projects.proposing.accepting import AcceptedAlready, accept, chosen_of, standing
from projects.proposing.proposal import Short
from projects.services.planning import put_away
from projects.services.reserving import release_project, reserve_project
from stash.models import Condition, Cone, Reservation, Shortage
from stash.services.refusal import Refusal
from stash.services.using import take_as_wound
from stash.services.weighing import weigh
from tests.books import assert_books_agree
from tests.factories import make_cone
from tests.projects.proposing.competing import compete, served_both

pytestmark = pytest.mark.django_db


@pytest.fixture
def case(owner):
    found = compete(owner)
    assert found.held(found.mats) == {"K-1": 55}
    return found


@pytest.fixture
def proposal(case):
    return served_both(case)


def nothing_moved(case) -> bool:
    assert_books_agree()
    return case.held(case.mats) == {"K-1": 55} and case.held(case.runner) == {}


def test_both_get_what_is_proposed(case, proposal):
    accepted = accept(proposal=proposal, ticked=[case.mats.pk, case.runner.pk])
    assert accepted.names == ("Mats", "Runner") and not accepted.short
    assert case.held(case.mats) == {"K-2a": 30, "K-2b": 25}
    assert case.held(case.runner) == {"K-1": 55}
    assert_books_agree()


def test_those_that_hang_together_are_taken_together(case, proposal):
    assert chosen_of(proposal, [case.runner.pk]) == [case.mats.pk, case.runner.pk]
    accept(proposal=proposal, ticked=[case.runner.pk])
    assert case.held(case.mats) == {"K-2a": 30, "K-2b": 25}


def test_of_those_that_do_not_one_alone_may_be_taken(owner):
    case = compete(owner, reserved=False)
    proposal = served_both(case)
    accept(proposal=proposal, ticked=[case.runner.pk])
    assert case.held(case.runner) == {"K-1": 55} and case.held(case.mats) == {}
    assert standing(proposal)[case.mats.pk] is None
    accept(proposal=proposal, ticked=[case.mats.pk])
    assert case.held(case.mats) == {"K-2a": 30, "K-2b": 25}
    assert_books_agree()


def test_the_lengths_per_mass_of_the_first_reservation_are_kept(case, proposal):
    accept(proposal=proposal, ticked=[case.runner.pk])
    assert all(row.frozen_um for row in case.runner.shades.all())


def test_who_gives_way_has_what_it_then_lacks_noted_as_its_shortage(case, proposal):
    kept = tuple(part for part in proposal.given[case.mats.pk] if part.use == "weft")
    proposal = replace(
        proposal,
        given=proposal.given | {case.mats.pk: kept},
        short={case.mats.pk: (Short(case.spruce.pk, "before", (case.runner.pk,)),)},
    )
    accepted = accept(proposal=proposal, ticked=[case.runner.pk])
    assert accepted.short == ("Mats",)
    short = Shortage.objects.get(claim__project=case.mats)
    assert (short.shade, short.ends, short.mass_mg) == (case.spruce, 10, 50_000)
    assert_books_agree()


def test_a_proposal_that_promises_too_little_is_not_written(case, proposal):
    """Whatever made it, the figures are asked again before anything moves."""
    few = replace(proposal, given=proposal.given | {case.runner.pk: proposal.given[case.runner.pk][1:]})
    with pytest.raises(Refusal, match="no longer fits: the ends are not those that are needed"):
        accept(proposal=few, ticked=[case.runner.pk])
    assert nothing_moved(case)


def test_a_second_acceptance_says_that_it_was_accepted_already(case, proposal):
    accept(proposal=proposal, ticked=[case.runner.pk])
    before = list(Reservation.objects.order_by("pk").values())
    with pytest.raises(AcceptedAlready, match="accepted already"):
        accept(proposal=proposal, ticked=[case.runner.pk])
    assert list(Reservation.objects.order_by("pk").values()) == before


@pytest.mark.parametrize("ticked", [[], [0], [987_654]])
def test_nothing_ticked_is_nothing_accepted(case, proposal, ticked):
    with pytest.raises(Refusal, match="Tick at least one"):
        accept(proposal=proposal, ticked=ticked)
    assert nothing_moved(case)


# --- What changed meanwhile -----------------------------------------------------------------------------
def test_a_cone_that_was_weighed_below_what_is_proposed_refuses_it(case, proposal, owner):
    weigh(cone_id=case.small[0].pk, scale_mg=20_000, gross=False, by=owner)
    with pytest.raises(
        Refusal, match=r"Cone K-2a \(Spruce\) weighs less .* 30 g of it are proposed, 20 g can"
    ):
        accept(proposal=proposal, ticked=[case.runner.pk])
    assert nothing_moved(case)


def test_yarn_that_another_took_meanwhile_refuses_it_and_names_who_has_it(case, proposal):
    from tests.projects.shortages import mats

    other = mats({"A": case.spruce, "B": case.rust}, name="Scarf")
    reserve_project(pk=other.pk)
    assert case.held(other)
    with pytest.raises(Refusal, match="Scarf holds some of it"):
        accept(proposal=proposal, ticked=[case.runner.pk])
    assert nothing_moved(case)


def test_a_cone_that_no_project_may_be_given_any_more_refuses_it(case, proposal):
    Cone.objects.filter(pk=case.small[1].pk).update(condition=Condition.WEAK)
    with pytest.raises(Refusal, match=r"K-2b .* cannot be given any more: it is weak"):
        accept(proposal=proposal, ticked=[case.runner.pk])
    assert nothing_moved(case)


def test_a_plan_that_was_changed_refuses_it(case, proposal):
    Project.objects.filter(pk=case.runner.pk).update(version=9)
    with pytest.raises(Refusal, match="The plan of Runner was changed"):
        accept(proposal=proposal, ticked=[case.runner.pk])
    assert nothing_moved(case)


def test_a_wish_that_was_changed_refuses_it(case, proposal):
    case.runner.shades.filter(key="A").update(wish="any", wish_lot=None)
    with pytest.raises(Refusal, match="What Runner needs"):
        accept(proposal=proposal, ticked=[case.runner.pk])
    assert nothing_moved(case)


def test_another_length_per_weight_refuses_it(case, proposal):
    case.spruce.yarn.stated_um, case.spruce.yarn.grist_um = None, case.spruce.yarn.grist_um + 1
    type(case.spruce.yarn).objects.filter(pk=case.spruce.yarn_id).update(grist_um=case.spruce.yarn.grist_um)
    with pytest.raises(Refusal, match="length per weight"):
        accept(proposal=proposal, ticked=[case.runner.pk])


def test_a_reservation_that_was_changed_refuses_it(case, proposal):
    release_project(pk=case.mats.pk)
    with pytest.raises(Refusal, match="The reservation of Mats was changed"):
        accept(proposal=proposal, ticked=[case.runner.pk])
    assert case.held(case.runner) == {}


def test_nobodys_wound_yarn_moves(case, proposal, owner):
    take_as_wound(claim_id=case.mats.claim_id, by=owner)
    with pytest.raises(Refusal, match="The yarn of Mats does not move any more: its warp is wound"):
        accept(proposal=proposal, ticked=[case.runner.pk])
    assert case.held(case.runner) == {}
    assert_books_agree()


@pytest.mark.parametrize("stage", [Stage.WOUND, Stage.WEAVING])
def test_a_project_that_went_on_meanwhile_refuses_it(case, proposal, stage):
    Project.objects.filter(pk=case.mats.pk).update(stage=stage)
    with pytest.raises(Refusal, match="does not move any more: it stands at"):
        accept(proposal=proposal, ticked=[case.runner.pk])
    assert nothing_moved(case)


def test_a_project_that_was_put_away_meanwhile_refuses_it(case, proposal):
    put_away(pk=case.runner.pk)
    with pytest.raises(Refusal, match="Runner is not among the open projects"):
        accept(proposal=proposal, ticked=[case.mats.pk])
    assert nothing_moved(case)


def test_a_change_that_leaves_room_is_no_hindrance(case, proposal, owner):
    weigh(cone_id=case.small[1].pk, scale_mg=26_000, gross=False, by=owner)
    make_cone(case.spruce, grams=10, lot="3", by=owner)
    accept(proposal=proposal, ticked=[case.runner.pk])
    assert case.held(case.runner) == {"K-1": 55}
    assert_books_agree()
