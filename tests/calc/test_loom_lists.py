"""Lists for dressing the loom: groups, marks on the reed, and what each shaft lifts."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.loom_lists import (
    dress,
    heddles_on,
    keys_by_shaft,
    reed_checks,
    runs_of,
    threading_groups,
    tying_groups,
)
from stash.calc.needs import work_out
from stash.calc.selvedges import Selvedges
from tests.calc.plans import IN, a_plan, plans

pytestmark = pytest.mark.once


def layout_of(order, **changes):
    return work_out(a_plan(order=read_order(order), order_fills=False, **changes)).layout


def dressed(order, shafts, dents, **changes):
    layout = layout_of(order, **changes)
    threading = tuple(1 + at % shafts for at in range(layout.heddles))
    return dress(layout.each(), threading, dents)


def written(again):
    return [(one.times, one.items) for one in again]


def test_the_threading_comes_in_groups_with_what_is_threaded_so_far():
    ends = dressed("50 A", 4, [2] * 25)
    groups = threading_groups(ends, 20)
    assert [(one.first_end, one.last_end, one.heddles_so_far) for one in groups] == [
        (1, 20, 20), (21, 40, 40), (41, 50, 50),
    ]  # fmt: skip
    assert written(groups[0].shafts) == [(5, (1, 2, 3, 4))]
    assert [(one.first_dent, one.last_dent) for one in groups] == [(1, 10), (11, 20), (21, 25)]


def test_floating_ends_are_in_no_group_s_heddles_and_still_in_the_list():
    ends = dressed("40 A", 2, [1] * 42, selvedges=Selvedges(floating=True))
    groups = threading_groups(ends, 20)
    assert [(one.first_end, one.last_end, one.heddles) for one in groups] == [(1, 21, 20), (22, 42, 20)]
    assert ends[0].shaft is None


def test_ends_doubled_in_the_heddle_count_once():
    ends = dressed("8 A", 2, [1] * 8, selvedges=Selvedges(doubled_ends=2))
    assert len(ends) == 12
    assert heddles_on(ends) == {1: 4, 2: 4}
    assert sum(one.heddles for one in threading_groups(ends, 4)) == 8


def test_at_every_inch_of_the_reed_it_is_said_which_ends_lie_there():
    ends = dressed("12 A, 12 B", 2, [2] * 12)
    checks = reed_checks(ends, Density(Fraction(6)), 12, IN)
    assert [(one.dent, one.first_end, one.last_end, one.keys) for one in checks] == [
        (6, 11, 12, ("A", "A")),
        (12, 23, 24, ("B", "B")),
    ]


def test_a_mark_over_an_empty_dent_names_the_last_end_before_it():
    ends = dressed("4 A", 2, [1, 0, 1, 0, 1, 0, 1, 0])
    check = reed_checks(ends, Density(Fraction(2)), 8, IN)[0]
    assert check.empty
    assert (check.dent, check.first_end, check.last_end) == (2, 1, 1)


def test_lifted_alone_each_shaft_shows_its_runs_of_shades():
    """Alternating shades on two shafts: one shaft lifts one shade, the other the other, until the block flips."""
    runs = keys_by_shaft(dressed("3 times (1 A, 1 B), 3 times (1 B, 1 A)", 2, [1] * 12))
    assert written(runs[1]) == [(1, ((3, "A"),)), (1, ((3, "B"),))]
    assert written(runs[2]) == [(1, ((3, "B"),)), (1, ((3, "A"),))]


def test_ends_are_tied_on_in_bundles_of_an_inch():
    """Bundles of about an inch (common practice, no source)."""
    groups = tying_groups(50, Density(Fraction(12)), IN)
    assert (groups.ends, groups.groups, groups.last) == (12, 5, 2)
    assert tying_groups(5, Density(Fraction(1, 4)), IN).ends == 1


@pytest.mark.parametrize("size", [1, 201])
def test_a_group_has_from_2_to_200_ends(size):
    with pytest.raises(CalcError) as caught:
        threading_groups(dressed("4 A", 2, [1] * 4), size)
    assert caught.value.field == "group"


def test_a_sley_or_a_threading_that_is_too_short_is_refused():
    layout = layout_of("4 A")
    for threading, dents, field in (((1, 2), [1] * 4, "threading"), ((1, 2, 1, 2), [1] * 3, "sley")):
        with pytest.raises(CalcError) as caught:
            dress(layout.each(), threading, dents)
        assert caught.value.field == field
    with pytest.raises(CalcError):
        reed_checks((), Density(Fraction(6)), 12, 0)


@given(plans(), st.integers(2, 8), st.integers(2, 40), st.integers(1, 3))
@settings(max_examples=60)
def test_groups_shafts_and_dents_hold_every_end_once(plan, shafts, size, per_dent):
    layout = work_out(plan).layout
    dents = [per_dent] * (layout.places // per_dent) + [layout.places % per_dent]
    ends = dress(layout.each(), [1 + at % shafts for at in range(layout.heddles)], dents)
    groups = threading_groups(ends, size)
    assert groups[0].first_end == 1
    assert groups[-1].last_end == layout.ends == len(ends)
    assert all(one.last_end + 1 == after.first_end for one, after in pairwise(groups))
    assert groups[-1].heddles_so_far == layout.heddles == sum(heddles_on(ends).values())
    risen = keys_by_shaft(ends)
    counted = sum(
        again.times * sum(number for number, _ in again.items) for runs in risen.values() for again in runs
    )
    assert counted == sum(one.shaft is not None for one in ends)
    assert runs_of(one.end.key for one in ends) == list(work_out(plan).warp_order.runs())
