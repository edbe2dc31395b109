"""What stops one from making more. A scarf takes 36 yd of A as warp and 36 yd of B as weft."""

import pytest

from stash.calc.errors import CalcError
from stash.calc.most import most_pieces
from stash.calc.plan import MOST_PIECES
from stash.calc.ways.more import more_pieces
from tests.calc.plans import YD
from tests.calc.ways.shelves import scarves, shelf

pytestmark = pytest.mark.once


def test_each_further_piece_says_what_it_lacks_of_every_shade():
    rows = more_pieces(scarves(pieces=2), shelf(A=144, B=108), 3)
    assert [row.more for row in rows] == [1, 2, 3]
    assert [[(found.key, found.short_um) for found in row.missing] for row in rows] == [
        [],
        [("B", 36 * YD)],
        [("B", 72 * YD), ("A", 40 * YD)],  # 36 ends of 5 yd: 144 yd give 28 of them
    ]


def test_the_first_that_lacks_something_is_one_more_than_the_most():
    stock = shelf(A=300, B=250)
    most = most_pieces(scarves(pieces=2), stock)
    rows = more_pieces(scarves(pieces=2), stock, 8)
    assert next(row for row in rows if row.missing).tried.plan.pieces == most.pieces + 1


def test_it_ends_where_no_warp_can_be_planned():
    assert len(more_pieces(scarves(pieces=MOST_PIECES - 1, along_um=1_000), {}, 5)) == 1


@pytest.mark.parametrize("up_to", [0, -1, 51])
def test_how_many_more_is_a_number_of_a_page(up_to):
    with pytest.raises(CalcError) as raised:
        more_pieces(scarves(), {}, up_to)
    assert raised.value.field == "up_to"
