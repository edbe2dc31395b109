"""Sharing a warp out among the cones of a lot, so that little has to be wound over."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.passes import wind
from stash.calc.serving import Holds, serve
from stash.calc.sharing_out import Share, share_out

pytestmark = pytest.mark.once


def over(passes, ends, key="A"):
    """Warp lengths that are wound over."""
    serving = serve(passes, [Holds(cone, key, number) for cone, number in ends.items()])
    return sum(one.ends for one in serving.overs)


def test_two_cones_of_a_lot_give_half_of_the_like_pairs_each():
    passes = wind(["A"] * 340, 2).passes
    cones = [Share(1, "A", 7, 327, 330), Share(2, "A", 7, 13, 220)]
    assert over(passes, {1: 327, 2: 13}) == 157
    shared = share_out(passes, cones)
    assert shared == {1: 170, 2: 170}
    assert over(passes, shared) == 0


def test_a_cone_is_not_asked_beyond_its_room():
    passes = wind(["A"] * 100, 2).passes
    shared = share_out(passes, [Share(1, "A", 7, 100, 120), Share(2, "A", 7, 0, 30)])
    assert shared == {1: 70, 2: 30}
    assert over(passes, shared) == 20


def test_ends_do_not_move_from_one_lot_to_another():
    passes = wind(["A"] * 100, 2).passes
    apart = [Share(1, "A", 7, 100, 120), Share(2, "A", 8, 0, 90), Share(3, "A", None, 0, 90)]
    assert share_out(passes, apart) == {1: 100, 2: 0, 3: 0}


def test_where_no_two_ends_of_a_shade_are_wound_at_once_nothing_moves():
    passes = wind(["A", "B"] * 20, 2).passes
    cones = [Share(1, "A", 7, 20, 30), Share(2, "A", 7, 0, 30), Share(3, "B", 9, 20, 30)]
    assert share_out(passes, cones) == {1: 20, 2: 0, 3: 20}


def test_a_spare_end_of_the_buffer_stays_where_it_is():
    passes = wind(["A"] * 10, 2).passes
    assert share_out(passes, [Share(1, "A", 7, 11, 20), Share(2, "A", 7, 0, 20)]) == {1: 6, 2: 5}


def test_a_cone_gives_no_less_than_nothing():
    with pytest.raises(CalcError):
        Share(1, "A", 7, -1, 5)


@given(
    st.lists(st.sampled_from("AAB"), min_size=1, max_size=60),
    st.lists(
        st.tuples(st.integers(0, 30), st.integers(0, 30), st.sampled_from([1, 2, None])),
        min_size=1,
        max_size=5,
    ),
    st.integers(1, 4),
)
@settings(max_examples=200)
def test_sharing_out_moves_within_a_lot_and_never_makes_more_to_wind_over(ends, cones, at_once):
    passes = wind(ends, at_once).passes
    shares = [Share(at, "A", lot, has, has + more) for at, (has, more, lot) in enumerate(cones)]
    shared = share_out(passes, shares)
    for lot in {share.lot for share in shares}:
        members = [share for share in shares if share.lot == lot]
        assert sum(shared[share.cone_id] for share in members) == sum(share.ends for share in members)
    assert all(0 <= shared[share.cone_id] <= share.room for share in shares)
    if sum(share.ends for share in shares) >= ends.count("A"):
        assert over(passes, shared) <= over(passes, {share.cone_id: share.ends for share in shares})
