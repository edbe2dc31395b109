"""The draft as it is drawn."""

import pytest

from stash.calc.draft import read_draft
from stash.calc.draft_chart import MOST_CELLS, chart_of
from stash.calc.structure import structure, structures

pytestmark = pytest.mark.once


def test_a_common_structure_has_a_treadle_for_each_shed():
    chart = chart_of(structure("twill-2-2"))
    assert chart.threading == (1, 2, 3, 4)
    assert [sorted(treadle) for treadle in chart.treadles] == [[1, 2], [2, 3], [3, 4], [1, 4]]
    assert [sorted(pressed) for pressed in chart.treadling] == [[1], [2], [3], [4]]


def test_sheds_that_come_again_share_a_treadle():
    chart = chart_of(structure("basket-2-2"))
    assert len(chart.treadles) == 2
    assert [sorted(pressed) for pressed in chart.treadling] == [[1], [1], [2], [2]]


def test_a_typed_tie_up_is_drawn_as_it_was_typed():
    chart = chart_of(read_draft("1-4", "1+2, 3+4, 1, 2", "1, 2, 3+4"))
    assert [sorted(treadle) for treadle in chart.treadles] == [[1, 2], [3, 4], [1], [2]]
    assert [sorted(pressed) for pressed in chart.treadling] == [[1], [2], [3, 4]]


def test_a_lift_plan_has_no_treadles():
    chart = chart_of(read_draft("1-3", lift_plan="1+2, 3"))
    assert chart.treadles == ()
    assert [sorted(lift) for lift in chart.treadling] == [[1, 2], [3]]


@pytest.mark.parametrize("key", structures())
def test_the_crossings_are_those_of_the_structure(key):
    assert chart_of(structure(key)).up == structure(key).rows


def test_a_long_repeat_is_cut_and_says_so():
    draft = read_draft("40 times (1-4)", "1+2, 3+4", "100 times (1, 2)")
    chart = chart_of(draft)
    assert (len(chart.threading), len(chart.up), chart.cut) == (MOST_CELLS, MOST_CELLS, True)
    assert not chart_of(structure("plain")).cut
