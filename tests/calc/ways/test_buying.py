"""What to buy. Five scarves take 36 ends of 5 yd of A and 180 yd of B, at a yard a gram, without buffers."""

from fractions import Fraction

import pytest

from stash.calc.colour_order import read_order
from stash.calc.reorder.put_ups import Offered
from stash.calc.verdict import Verdict
from stash.calc.ways.buying import buying
from stash.calc.ways.tried import try_plan
from tests.calc.ways.shelves import cone, scarves, shelf

pytestmark = pytest.mark.once

GRAM = 1000


def test_whole_put_ups_of_what_is_missing():
    (line,) = buying(try_plan(scarves(), shelf(A=180, B=[])), {"B": 50 * GRAM}).lines
    assert (line.key, line.number, line.put_up_mg, line.known) == ("B", 4, 50 * GRAM, True)


def test_a_new_lot_must_hold_whole_pieces_of_weft_a_matched_lot_need_not():
    # 100 yd are two pieces of 36 yd and 28 yd more; 108 yd of another lot are missing, or 80 yd of the same.
    (line,) = buying(try_plan(scarves(), shelf(A=180, B=[cone(1, 100, 7)])), {"B": 40 * GRAM}).lines
    assert line.number == 3
    assert (line.matched, line.matched_lot) == (2, 7)


def test_a_new_lot_of_warp_is_bought_whole_so_that_the_warp_need_not_mix():
    (line,) = buying(try_plan(scarves(), shelf(A=[cone(1, 100, 7)], B=180)), {"A": 100 * GRAM}).lines
    assert line.number == 2  # 36 ends from new cones of 20 ends each
    assert (line.matched, line.matched_lot) == (1, 7)


def test_ends_are_cut_whole_from_each_put_up():
    # A put-up of 49 yd gives 9 ends of 5 yd: four of them, though 180 yd are less than 4 x 49.
    (line,) = buying(try_plan(scarves(), shelf(A=[], B=180)), {"A": 49 * GRAM}).lines
    assert line.number == 4
    (line,) = buying(try_plan(scarves(), shelf(A=[], B=180)), {"A": 44 * GRAM}).lines
    assert line.number == 5  # eight ends each


def test_put_ups_too_small_for_one_end_are_never_enough():
    assert buying(try_plan(scarves(), shelf(A=[], B=180)), {"A": 4 * GRAM}) is None


def test_without_a_known_put_up_it_is_grams():
    (line,) = buying(try_plan(scarves(), shelf(A=180, B=[cone(1, 100, 7)])), {}).lines
    assert (line.known, line.number, line.matched) == (False, 108, 80)


def test_the_buffer_is_bought_with_it():
    plan = scarves(weft_buffer=Fraction(1, 10))
    (line,) = buying(try_plan(plan, shelf(A=180, B=[])), {"B": 10 * GRAM}).lines
    assert line.number == 20  # 198 yd


def test_every_short_shade_is_bought_at_once_and_then_all_is_enough():
    way = buying(try_plan(scarves(), shelf(A=[], B=[])), {"A": 250 * GRAM, "B": 100 * GRAM})
    assert [(line.key, line.number) for line in way.lines] == [("A", 1), ("B", 2)]
    assert way.after.state == Verdict.ENOUGH
    assert way.cures


def test_a_shade_in_warp_and_weft_is_bought_for_both():
    (line,) = buying(try_plan(scarves(pick_order=read_order("1 A")), shelf(A=[])), {"A": 100 * GRAM}).lines
    assert line.number == 4


def test_where_nothing_is_missing_nothing_is_bought():
    assert buying(try_plan(scarves(), shelf(A=180, B=180)), {}) is None


def test_what_is_sold_goes_before_labels_and_the_cheapest_in_all_is_taken():
    """180 yd of B: two of 100 g at 9.00, or four of 50 g at 4.00, of which one buys no fewer than six."""
    sold = {
        "B": [Offered(1, 1, 100 * GRAM, 900), Offered(2, 2, 50 * GRAM, 400), Offered(3, 3, 50 * GRAM, 350, 6)]
    }
    (line,) = buying(try_plan(scarves(), shelf(A=180, B=[])), {"B": 10 * GRAM}, (), sold).lines
    assert (line.number, line.put_up_mg, line.counted.offered.id, line.counted.cost_cents) == (
        4,
        50_000,
        2,
        1_600,
    )


def test_what_has_no_price_is_taken_only_where_nothing_else_is_sold():
    sold = {"B": [Offered(1, 1, 100 * GRAM), Offered(2, 2, 50 * GRAM, 9_999)]}
    (line,) = buying(try_plan(scarves(), shelf(A=180, B=[])), {}, (), sold).lines
    assert line.counted.offered.id == 2


def test_one_more_for_the_lot_is_counted_and_all_is_then_enough():
    sold = {"B": [Offered(1, 1, 100 * GRAM, 900)]}
    way = buying(try_plan(scarves(), shelf(A=180, B=[])), {}, (), sold, {"B"})
    assert way.lines[0].number == 3 and way.after.state == Verdict.ENOUGH
