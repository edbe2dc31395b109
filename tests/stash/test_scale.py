"""The scale that the stock bars of one list share."""

import pytest

from stash.calc.writing import Measures
from stash.tables.scale import shared_scale

YARD, METRE = 914_400, 1_000_000


@pytest.mark.parametrize(
    ("most", "scale"),
    [
        (0, 1),
        (1, 1),
        (9, 9),
        (99, 99),
        (100, 100),
        (101, 110),
        (5_147, 5_200),
        (5_200, 5_200),
        (123_456, 130_000),
    ],
)
def test_the_scale_is_two_figures_and_noughts_of_the_studios_own_unit(most, scale):
    assert shared_scale(most * YARD, Measures()) == scale * YARD
    assert shared_scale(most * METRE, Measures(length="metric")) == scale * METRE


def test_the_scale_holds_the_last_micrometre():
    assert shared_scale(5_200 * YARD + 1, Measures()) == 5_300 * YARD
