"""From the shelf to a proposal: both of two that compete are served, and what needs not move stays."""

import sys
from dataclasses import replace

import pytest

from projects.models import Project
from projects.proposing.accepting import accept, standing
from projects.proposing.gathering import gather
from projects.proposing.proposal import Proposal, in_turn, is_served
from projects.proposing.run_desk import Cancelled
from projects.proposing.solving import solve
from projects.proposing.words import proof_sentence, say
from stash.calc.allot.allotting import NOTHING_NEW
from stash.calc.writing import Measures
from stash.models import Reservation
from stash.services.weighing import weigh
from tests.books import assert_books_agree
from tests.factories import make_cone
from tests.projects.proposing.competing import EXACT, compete
from tests.projects.shortages import mats

pytestmark = pytest.mark.django_db


def quietly(words: str, done: int = 0, total: int = 0) -> None:
    """Nobody listens."""


def by_name(proposal: Proposal) -> dict[str, tuple[str, int]]:
    """Of each project the codes of the cones that give its warp, and g of them in all."""
    cones = proposal.gathered.cones
    found = {}
    for party in proposal.gathered.parties:
        warp = [part for part in proposal.given[party.pk] if part.ends]
        codes = sorted(cones[part.cone_id].code for part in warp)
        found[party.name] = " ".join(codes), sum(part.mass_mg for part in warp) // 1_000
    return found


@pytest.fixture
def case(owner):
    return compete(owner)


def test_the_first_gives_up_the_lot_that_the_second_cannot_do_without(case):
    assert not is_served(gather().parties[1], in_turn(gather())[case.runner.pk], gather().cones)
    proposal = solve(gather(), quietly)
    assert by_name(proposal) == {"Mats": ("K-2a K-2b", 55), "Runner": ("K-1", 55)}
    assert proposal.proof.served_proven and not proposal.proof.fallback
    accept(proposal=proposal, ticked=[case.runner.pk])
    assert case.held(case.runner) == {"K-1": 55}
    assert_books_agree()


def test_once_it_is_accepted_nothing_more_changes(case):
    accept(proposal=solve(gather(), quietly), ticked=[case.runner.pk])
    again = solve(gather(), quietly)
    assert not any(again.changes(party) for party in again.gathered.parties)


def test_what_serves_as_well_stays_though_another_cone_would_be_chosen_first(owner, case):
    """A lot that would be chosen now, the one with fewest ends, came after the mats had reserved."""
    Project.objects.filter(pk=case.runner.pk).delete()
    make_cone(case.spruce, grams=55, lot="0", code="K-0", by=owner)
    before = list(Reservation.objects.order_by("pk").values())
    proposal = solve(gather(), quietly)
    assert not any(proposal.changes(party) for party in proposal.gathered.parties)
    assert list(Reservation.objects.order_by("pk").values()) == before


def test_what_was_undercut_moves_to_where_it_is_whole(case, owner):
    Project.objects.filter(pk=case.runner.pk).delete()
    weigh(cone_id=case.big.pk, scale_mg=40_000, gross=False, by=owner)
    assert by_name(solve(gather(), quietly)) == {"Mats": ("K-2a K-2b", 55)}


def test_what_is_proposed_outlives_its_keeping(case):
    proposal = solve(gather(), quietly)
    again = Proposal.from_data(proposal.as_data())
    assert again.gathered == proposal.gathered
    assert (again.given, again.proof, again.short) == (proposal.given, proposal.proof, proposal.short)


def test_one_that_is_not_served_says_why_and_gets_nothing_new(case, owner):
    shades = {"A": case.spruce, "B": case.rust}
    last = mats(shades, name="Last")
    proposal = solve(gather(), quietly)
    assert by_name(proposal)["Last"] == ("", 0)
    (lacking,) = proposal.short[last.pk]
    assert (lacking.shade_id, lacking.cause) == (case.spruce.pk, "before")


def test_a_run_that_nobody_wants_any_more_ends(case):
    def unwanted(words: str, done: int = 0, total: int = 0) -> None:
        raise Cancelled

    with pytest.raises(Cancelled):
        solve(gather(), unwanted)


def test_our_own_packing_in_place_of_the_solver_is_said(case, monkeypatch):
    monkeypatch.setitem(sys.modules, "highspy", None)
    proposal = solve(gather(), quietly)
    assert proposal.proof.fallback == "The solver is not installed."
    (said,) = say(proposal, Measures(), standing(proposal)).paragraphs
    assert said.startswith("The solver is not installed. What is contested was shared out by our own packing")
    accept(proposal=proposal, ticked=list(proposal.groups))
    assert_books_agree()


def test_where_nothing_new_is_given_to_anybody_that_alone_is_said():
    assert proof_sentence(replace(EXACT, fallback=NOTHING_NEW)) == NOTHING_NEW
