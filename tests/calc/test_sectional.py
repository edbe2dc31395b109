"""Sectional beam: spools for a section and the yards on each; and the path on a warping board."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.board import board_path
from stash.calc.density import UM_PER_CM, Density
from stash.calc.errors import CalcError
from stash.calc.sectional import into_sections
from tests.calc.plans import IN, YD

pytestmark = pytest.mark.once


def test_every_spool_holds_all_sections_and_not_one():
    """20 ends to the inch, sections of 2 in, 24 in wide, 10 yd and half a yard of waste: 40 spools of 126 yd.
    (The rule is common practice, no source; the figures are ours.)"""
    beam = into_sections(["A"] * 480, Density(Fraction(20)), 2 * IN, 10 * YD)
    assert [section.ends for section in beam.sections] == [40] * 12
    (spools,) = beam.spools
    assert (spools.number, spools.sections, spools.length_um) == (40, 12, 126 * YD)


def test_a_section_that_holds_no_whole_number_of_ends_alternates():
    beam = into_sections(["A"] * 45, Density(Fraction(15)), IN * 3 // 2, YD)
    assert [section.ends for section in beam.sections] == [22, 23]
    assert beam.spools_at_once == 23
    assert [(spool.number, spool.sections) for spool in beam.spools] == [(22, 2), (1, 1)]


def test_shades_that_are_not_in_every_section_need_less_on_their_spools():
    beam = into_sections(["A"] * 20 + ["B"] * 10 + ["A"] * 10, Density(Fraction(10)), 2 * IN, YD, 0)
    assert [(one.key, one.number, one.length_um // YD) for one in beam.spools] == [
        ("A", 10, 2),
        ("A", 10, 1),
        ("B", 10, 1),
    ]


@given(
    st.lists(st.sampled_from("ABC"), min_size=1, max_size=200),
    st.integers(1, 20),
    st.sampled_from([IN, 2 * IN, 5 * UM_PER_CM]),
)
@settings(max_examples=100)
def test_the_sections_are_the_warp_and_the_spools_serve_it(keys, epi, section_um):
    beam = into_sections(keys, Density(Fraction(epi)), section_um, 3 * YD)
    assert sum(section.ends for section in beam.sections) == len(keys)
    for key in set(keys):
        served = sum(spool.number * spool.sections for spool in beam.spools if spool.key == key)
        assert served == keys.count(key)
    assert beam.length_um == len(keys) * (3 * YD + YD // 2)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"keys": []}, "keys"),
        ({"section_um": 0}, "section_um"),
        ({"section_um": 100}, "section_um"),
        ({"warp_um": 0}, "warp_um"),
    ],
)
def test_what_cannot_be_parted_is_refused(changes, field):
    facts = {"keys": ["A"], "sett": Density(Fraction(12)), "section_um": IN, "warp_um": YD} | changes
    with pytest.raises(CalcError) as caught:
        into_sections(**facts)
    assert caught.value.field == field


def test_a_board_is_taken_at_what_it_really_measures():
    """A board that is called a yard wide and winds 37 in (common practice: measure it)."""
    path = board_path(12 * YD, 37 * IN)
    assert (path.widths, path.part_um) == (11, 25 * IN)
    assert path.widths * path.step_um + path.part_um == path.warp_um == path.guide_um


def test_a_warp_of_whole_widths_has_no_part():
    path = board_path(4 * YD, YD)
    assert (path.widths, path.part_um) == (4, 0)


@pytest.mark.parametrize(("warp", "step"), [(0, 1), (1, 0)])
def test_a_path_needs_a_warp_and_a_board(warp, step):
    with pytest.raises(CalcError):
        board_path(warp, step)
