"""Two people accept one proposal at once, or one accepts while another reserves: all of it, or nothing."""

from functools import partial

import pytest

from projects.proposing.accepting import AcceptedAlready, accept
from projects.services.reserving import reserve_project
from stash.models import Cone
from stash.services.refusal import Refusal
from tests.books import assert_books_agree
from tests.concurrency.racing import race, sorted_out
from tests.factories import PersonFactory, StudioFactory
from tests.projects.proposing.competing import compete, served_both

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def case():
    StudioFactory()
    return compete(PersonFactory())


def test_of_two_who_accept_at_once_one_is_told_that_it_was_accepted_already(case):
    proposal = served_both(case)
    results = race([partial(accept, proposal=proposal, ticked=[case.runner.pk])] * 2)
    assert sorted_out(results, AcceptedAlready) == (1, 1)
    assert (case.held(case.mats), case.held(case.runner)) == ({"K-2a": 30, "K-2b": 25}, {"K-1": 55})
    assert_books_agree()


def test_accepting_against_reserving_leaves_no_half_of_it(case):
    proposal = served_both(case)
    results = race(
        [
            partial(accept, proposal=proposal, ticked=[case.mats.pk]),
            partial(reserve_project, pk=case.runner.pk),
            partial(reserve_project, pk=case.mats.pk),
        ]
    )
    sorted_out(results, Refusal)
    accepted = not isinstance(results[0], Exception)
    if accepted:
        # Whoever reserved afterwards found the shelf as the proposal left it.
        assert case.held(case.runner) == {"K-1": 55}
    assert not Cone.objects.undercut().exists()
    assert_books_agree()
