"""Serving passes from packages: each end from one of its own, and as much wound over as it takes."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.passes import wind
from stash.calc.serving import Holds, Over, Package, serve
from tests.calc.plans import YD

pytestmark = pytest.mark.once


def packages_of(serving):
    return [tuple(thread.package and thread.package.cone_id for thread in one) for one in serving.passes]


def test_our_own_worked_case_two_very_different_cones():
    """Our own worked case S07 (invented): 240 ends of 7.5 yd from 1300 and 620 yd, two at once.

    Of the small cone 82 whole warp lengths can be had. 280 yd more would make up its 900 yd; in whole warp
    lengths, so that no knot comes into an end, 38 are wound over, which is 285 yd.
    """
    warp = 15 * YD // 2
    ends = [1300 * YD // warp, 620 * YD // warp]
    assert ends == [173, 82]
    winding = wind(["A"] * 240, 2)
    serving = serve(winding.passes, [Holds(1, "A", ends[0]), Holds(2, "A", ends[1])])
    assert serving.overs == (Over("A", Package(1), Package(2), 38),)
    assert 38 * warp == 285 * YD
    assert serving.ends == {Package(1): 120, Package(2): 120}
    assert set(packages_of(serving)) == {(1, 2)}
    # The first cone gives its own ends and what was wound over, the second only what it had: 158 + 82.
    assert (serving.drawn(1), serving.drawn(2)) == (158, 82)
    assert not serving.missing


def test_two_colours_that_alternate_need_one_cone_of_each():
    winding = wind(["A", "B"] * 20, 2)
    serving = serve(winding.passes, [Holds(7, "A", 30), Holds(8, "B", 20)])
    assert set(packages_of(serving)) == {(7, 8)}
    assert not serving.overs


def test_one_cone_of_a_shade_is_split_for_like_pairs():
    """Half the ends go on to a spool: the cone on the scale until half has gone (common practice)."""
    serving = serve(wind(["A"] * 40, 2).passes, [Holds(3, "A", 50)])
    assert serving.overs == (Over("A", Package(3), Package(3, 1), 20),)
    assert serving.ends == {Package(3): 20, Package(3, 1): 20}
    assert serving.drawn(3) == 40


def test_a_few_like_pairs_take_no_more_on_to_the_second_package_than_they_need():
    ends = ["A", "B"] * 10 + ["A", "A"] + ["A", "B"] * 10
    serving = serve(wind(ends, 2).passes, [Holds(1, "A", 30), Holds(2, "B", 20)])
    assert serving.overs == (Over("A", Package(1), Package(1, 1), 1),)


def test_what_goes_the_same_way_twice_is_wound_over_once():
    ends = ["A"] * 4 + ["A", "A", "B", "B"] * 3
    serving = serve(wind(ends, 4).passes, [Holds(1, "A", 20), Holds(2, "B", 12)])
    ways = [(over.giver, over.taker) for over in serving.overs]
    assert len(ways) == len(set(ways))


def test_a_cone_that_is_empty_is_followed_by_the_next_of_its_lot():
    serving = serve(wind(["A"] * 5, 1).passes, [Holds(1, "A", 2), Holds(2, "A", 9)])
    assert packages_of(serving) == [(1,), (1,), (2,), (2,), (2,)]


def test_single_ends_do_not_use_up_the_cone_that_the_pairs_will_need():
    ends = ["A", "B"] * 6 + ["A", "A"] * 6
    serving = serve(wind(ends, 2).passes, [Holds(1, "A", 6), Holds(2, "A", 12), Holds(3, "B", 6)])
    assert packages_of(serving)[:6] == [(2, 3)] * 6
    assert packages_of(serving)[6:] == [(1, 2)] * 6
    assert not serving.overs


def test_ends_without_a_package_come_last_and_are_said():
    serving = serve(wind(["A"] * 6, 2).passes, [Holds(1, "A", 2), Holds(2, "A", 2)])
    assert packages_of(serving) == [(1, 2), (1, 2), (None, None)]
    assert serving.missing == {"A": 2}


def test_a_shade_without_any_package_is_missing_whole():
    serving = serve(wind(["A", "B"], 2).passes, [Holds(1, "A", 1)])
    assert packages_of(serving) == [(1, None)]
    assert serving.missing == {"B": 1}


def test_a_cone_gives_no_less_than_no_ends():
    with pytest.raises(CalcError):
        Holds(1, "A", -1)


holdings = st.lists(st.integers(0, 30), min_size=1, max_size=5)


@given(st.lists(st.sampled_from("AAB"), min_size=1, max_size=60), holdings, holdings, st.integers(1, 4))
@settings(max_examples=250)
def test_nobody_gives_more_than_it_holds_and_nothing_twice_in_a_pass(ends, of_a, of_b, at_once):
    winding = wind(ends, at_once)
    holds = [Holds(at, "A", number) for at, number in enumerate(of_a)]
    holds += [Holds(100 + at, "B", number) for at, number in enumerate(of_b)]
    serving = serve(winding.passes, holds)
    for one, cut in zip(serving.passes, winding.passes, strict=True):
        assert [thread.key for thread in one] == list(cut.keys)
        there = [thread.package for thread in one if thread.package]
        assert len(there) == len(set(there))
    # What every package gives, after winding over, is what it held.
    held = {Package(hold.cone_id): hold.ends for hold in holds}
    for over in serving.overs:
        assert over.ends > 0
        held[over.giver] -= over.ends
        held[over.taker] = held.get(over.taker, 0) + over.ends
    assert all(number >= 0 for number in held.values())
    assert all(number <= held[package] for package, number in serving.ends.items())
    # All that is there is used before anything is missing.
    for key, stock in (("A", sum(of_a)), ("B", sum(of_b))):
        assert serving.missing.get(key, 0) == max(0, ends.count(key) - stock)
    assert sum(serving.ends.values()) + sum(serving.missing.values()) == len(ends)


@given(st.lists(st.integers(0, 40), min_size=2, max_size=5), st.integers(1, 60))
@settings(max_examples=100)
def test_of_one_shade_as_much_is_wound_over_as_the_second_package_lacks(of_a, pairs):
    """For like pairs alone: what the packages hold above one thread a pass is moved, and no more."""
    ends = 2 * pairs
    if sum(of_a) < ends:
        return
    serving = serve(wind(["A"] * ends, 2).passes, [Holds(at, "A", number) for at, number in enumerate(of_a)])
    assert sum(over.ends for over in serving.overs) == max(
        0, ends - sum(min(number, pairs) for number in of_a)
    )
