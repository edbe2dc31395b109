"""Heddles by shaft against those owned, and ways to spread."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.draft import read_draft
from stash.calc.heddles import Move, check_heddles, heddles_needed, repeat_on
from stash.calc.structure import structure

pytestmark = pytest.mark.once


def owned(*numbers):
    return dict(enumerate(numbers, start=1))


def test_plain_weave_is_threaded_over_four_shafts_where_there_are_four():
    assert repeat_on(structure("plain"), 4) == (1, 2, 3, 4)
    assert repeat_on(structure("plain"), 8) == (1, 2, 3, 4)
    assert repeat_on(structure("plain"), 2) == (1, 2)


def test_basket_weave_is_spread_so_that_every_end_keeps_its_lift():
    repeat = repeat_on(structure("basket-2-2"), 4)
    assert repeat == (1, 3, 2, 4)
    assert [shaft % 2 for shaft in repeat] == [shaft % 2 for shaft in structure("basket-2-2").threading]


def test_a_twill_and_a_typed_threading_stay_as_they_are():
    assert repeat_on(structure("twill-2-2"), 8) == structure("twill-2-2").threading
    assert repeat_on(read_draft("1, 2", lift_plan="1, 2"), 8) == (1, 2)


def test_the_repeat_begins_anew_and_may_break_off():
    assert heddles_needed((1, 2, 3, 4), 10) == owned(3, 3, 2, 2)
    assert heddles_needed((1, 3), 4) == owned(2, 0, 2)


def test_enough_heddles_ask_for_nothing():
    found = check_heddles((1, 2, 3, 4), 400, owned(100, 100, 100, 120))
    assert found.enough
    assert (found.moves, found.to_tie, found.uneven) == ((), 0, {})


def test_heddles_are_moved_from_the_shaft_with_most_to_spare():
    found = check_heddles((1, 2, 3), 300, owned(80, 130, 110))
    assert found.missing == {1: 20}
    assert found.moves == (Move(20, 2, 1),)
    assert found.to_tie == 0


def test_what_cannot_be_moved_is_tied():
    found = check_heddles((1, 2, 3), 300, owned(80, 105, 110))
    assert found.moves == (Move(10, 3, 1), Move(5, 2, 1))
    assert found.to_tie == 5


def test_heddles_of_shafts_that_are_not_threaded_may_move_too():
    assert check_heddles((1, 2), 200, owned(90, 100, 40, 40)).moves == (Move(10, 3, 1),)


def test_plain_weave_is_spread_unevenly_over_its_pairs():
    found = check_heddles((1, 2, 3, 4), 400, owned(120, 120, 80, 85))
    assert found.uneven == owned(120, 115, 80, 85)


def test_a_pair_that_lacks_heddles_cannot_be_spread():
    assert check_heddles((1, 2, 3, 4), 400, owned(90, 200, 90, 200)).uneven == {}


@given(st.integers(4, 800), st.lists(st.integers(0, 250), min_size=4, max_size=4))
def test_moved_and_tied_heddles_make_up_what_is_missing(ends, numbers):
    found = check_heddles((1, 2, 3, 4), ends, owned(*numbers))
    assert sum(found.needed.values()) == ends
    assert sum(found.missing.values()) == sum(move.heddles for move in found.moves) + found.to_tie
    if found.uneven:
        assert sum(found.uneven.values()) == ends
        assert all(0 <= number <= found.owned[shaft] for shaft, number in found.uneven.items())
