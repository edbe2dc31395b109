"""Most pieces: how far the shelf goes, and which shade stops the next piece. All figures invented."""

from dataclasses import replace
from fractions import Fraction

import pytest

from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.grist import Grist
from stash.calc.most import Stock, most_pieces
from stash.calc.needs import work_out
from stash.calc.packing import ConeStock
from stash.calc.plan import MOST_PIECES
from stash.calc.verdict import Verdict, judge
from tests.calc.plans import IN, YD, a_plan

pytestmark = pytest.mark.once

YARD_A_GRAM = Grist(YD, 1000)

# 36 ends of A in a yard of reed, a yard of warp a piece; 36 picks of B a piece, a yard each.
SCARVES = a_plan(
    pieces=5,
    across_um=36 * IN,
    along_um=36 * IN,
    sett=Density(Fraction(1)),
    picks=Density(Fraction(1)),
    order=read_order("1 A"),
    pick_order=read_order("1 B"),
)


def shelf(**yards):
    return {key: Stock(YARD_A_GRAM, [ConeStock(1, None, length * 1000)]) for key, length in yards.items()}


def test_the_shade_that_runs_out_first_says_how_many():
    most = most_pieces(SCARVES, shelf(A=400, B=350))
    assert (most.pieces, most.stopping_key) == (9, "B")
    assert (most.missing_ends, most.missing_weft_um) == (0, 10 * YD)


def test_warp_that_stops_the_next_piece_is_missing_in_whole_ends():
    # Ten pieces need 36 ends of 10 yd: 359 yd give 35 of them.
    most = most_pieces(SCARVES, shelf(A=359, B=1000))
    assert (most.pieces, most.stopping_key) == (9, "A")
    assert (most.missing_ends, most.missing_warp_um, most.missing_weft_um) == (1, 10 * YD, 0)


def test_several_shades_may_stop_the_next_piece_the_one_that_misses_most_first():
    most = most_pieces(SCARVES, shelf(A=108, B=110))
    assert most.pieces == 3
    assert [(stop.key, stop.missing_um) for stop in most.stops] == [("A", 36 * YD), ("B", 34 * YD)]


def test_an_empty_shelf_gives_no_piece():
    most = most_pieces(SCARVES, {})
    assert most.pieces == 0
    assert {stop.key: stop.missing_um for stop in most.stops} == {"A": 36 * YD, "B": 36 * YD}


def test_a_shelf_without_end_stops_nothing():
    most = most_pieces(a_plan(along_um=1_000), shelf(A=10**9, B=10**9))
    assert (most.pieces, most.stops, most.stopping_key, most.missing_ends) == (MOST_PIECES, (), None, 0)


def test_a_warp_stays_below_10_km():
    most = most_pieces(SCARVES, shelf(A=10**9, B=10**9))
    assert most.pieces == 10_936  # of 0.9144 m
    assert most.stops == ()


def test_lengths_kept_back_for_knots_count():
    plan = replace(SCARVES, keep_back=4)
    assert most_pieces(plan, shelf(A=400, B=1000)).pieces == 10
    assert most_pieces(plan, shelf(A=399, B=1000)).pieces == 9


def six_remnants(pieces, inches_of_b):
    """10 ends of A of (20 + pieces) in and 45 in of weft a piece, from six remnants of lots not known.

    A rare shelf: it serves 1, 2, 3 and 5 pieces, but not 4 (the remnants then come out at odds with both).
    """
    plan = a_plan(
        pieces=pieces, along_um=IN, waste_um=20 * IN, order=read_order("10 A"), order_fills=False,
        sett=Density(Fraction(10), 45 * IN), picks=Density(Fraction(2)), pick_order=read_order("1 A, 1 B"),
    )  # fmt: skip
    grist = Grist(IN, 1000)
    remnants = [
        ConeStock(number, None, inches * 1000) for number, inches in enumerate([89, 81, 86, 99, 97, 74])
    ]
    stock = {"A": Stock(grist, remnants), "B": Stock(grist, [ConeStock(9, None, inches_of_b * 1000)])}
    need = work_out(plan).needs[0]
    state = judge(need.need, need.warp_um, pieces, 0, grist, remnants).state
    return state, most_pieces(plan, stock).pieces


def test_the_answer_agrees_with_the_verdict_of_the_plan_even_on_an_odd_shelf():
    assert six_remnants(5, inches_of_b=1000) == (Verdict.TIGHT, 5)  # the accent's spare end is not there
    assert six_remnants(4, inches_of_b=1000) == (Verdict.SHORT, 3)


def test_every_shade_serves_the_answer_even_if_a_later_shade_lowers_it():
    assert six_remnants(5, inches_of_b=4 * 45) == (Verdict.TIGHT, 3)


def big_shelf(worked, cones):
    """Half as much again as the bare need, on so many cones of one lot."""
    grist = Grist.from_yd_per_lb(3360)
    return {
        need.key: Stock(
            grist,
            [
                ConeStock(number, 1, int(grist.mass_mg_of(need.total_um)) * 3 // 2 // cones)
                for number in range(cones)
            ],
        )
        for need in worked.needs
    }
