"""Colour differences against published pairs, and colours of the screen.

The pairs: G. Sharma, W. Wu, E. N. Dalal, The CIEDE2000 Color-Difference Formula: Implementation Notes, Supplementary
Test Data, and Mathematical Observations, Color Research and Application 30 (2005), Table 1, p. 24.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.colour import FARTHEST, Lab, apart, difference, in_words, lab_of
from stash.calc.errors import CalcError

pytestmark = pytest.mark.once

TABLE = Path(__file__).parents[1] / "references" / "ciede2000.csv"
PAIRS = list(csv.DictReader(TABLE.read_text().splitlines()))

colours = st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")


def lab(row: dict[str, str], which: str) -> Lab:
    return Lab(*(float(row[name + which]) for name in ("L", "a", "b")))


def test_all_published_pairs_are_there() -> None:
    assert len(PAIRS) == 34


@pytest.mark.parametrize("row", PAIRS, ids=lambda row: f"pair {row['pair']}")
def test_each_published_pair_differs_as_published_both_ways(row: dict[str, str]) -> None:
    one, other = lab(row, "1"), lab(row, "2")
    published = pytest.approx(float(row["delta_e_2000"]), abs=0.00005)
    assert difference(one, other) == published
    assert difference(other, one) == published


# CIELAB of the screen's primaries under D65 (from memory); the white is rounded in
# more than one way, hence the tolerance. Under D50 red would
# be 54.29, 80.81, 69.89: the white-point trap.
@pytest.mark.parametrize(
    ("colour", "expected"),
    [
        ("#ffffff", (100.0, 0.0, 0.0)),
        ("#000000", (0.0, 0.0, 0.0)),
        ("#ff0000", (53.24, 80.09, 67.20)),
        ("#00ff00", (87.73, -86.18, 83.18)),
        ("#0000ff", (32.30, 79.19, -107.86)),
    ],
)
def test_colours_of_the_screen_stand_in_cielab_under_their_own_white(
    colour: str, expected: tuple[float, float, float]
) -> None:
    found = lab_of(colour)
    assert (found.lightness, found.a, found.b) == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize("level", range(0, 256, 15))
def test_no_grey_has_a_hue(level: int) -> None:
    grey = lab_of(f"#{level:02x}{level:02x}{level:02x}")
    assert (grey.a, grey.b) == pytest.approx((0, 0), abs=1e-9)


def test_black_and_white_are_a_hundred_apart() -> None:
    assert apart("#000000", "#ffffff") == pytest.approx(100, abs=1e-6)


@given(colours, colours)
def test_a_difference_is_the_same_both_ways_and_none_of_a_colour_from_itself(one: str, other: str) -> None:
    assert apart(one, other) == pytest.approx(apart(other, one), abs=1e-9)
    assert apart(one, one) == 0
    assert 0 <= apart(one, other) < 130
    assert one == other or apart(one, other) > 0


def test_capitals_do_not_matter() -> None:
    assert apart("#2F5D50", "#2f5d50") == 0


@pytest.mark.parametrize(
    "text", ["", "2f5d50", "#2f5d5", "#2f5d500", "#2f5d5g", "#２f5d50", "spruce", "#2f5d50\n"]
)
def test_what_is_no_colour_is_refused(text: str) -> None:
    with pytest.raises(CalcError, match="six figures"):
        lab_of(text)


@pytest.mark.parametrize(
    ("gap", "words"),
    [
        (0, "as good as the same"),
        (1, "as good as the same"),
        (1.01, "very near"),
        (3.01, "near"),
        (6.01, "akin"),
        (12.01, "farther off"),
        (25, "farther off"),
        (25.01, FARTHEST),
        (100, FARTHEST),
    ],
)
def test_a_difference_is_said_in_words(gap: float, words: str) -> None:
    assert in_words(gap) == words
