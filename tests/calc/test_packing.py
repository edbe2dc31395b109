"""Packing: whole ends, whole lots, and no cone asked for more than it has. All figures invented."""

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need, pack, propose, serves
from tests.calc.plans import YD

pytestmark = pytest.mark.once

# A grist that makes a gram a yard, so that a cone of 100 g holds 100 yd.
YARD_A_GRAM = Grist(YD, 1000)
WARP = 10 * YD


def cone(number, yards, lot=None):
    return ConeStock(id=number, lot=lot, free_mg=yards * 1000)


def need(ends=0, spare=0, piece=0, sample=0, buffer=0):
    """Weft in yards; `buffer` in per cent of it."""
    bare = (piece * YD, sample * YD)
    buffered = tuple(length * (100 + buffer) // 100 for length in bare)
    return Need("A", ends, ends + spare, bare[0], buffered[0], bare[1], buffered[1])


def packed(wanted, cones, pieces=1, keep_back=0, buffered=False, grist=YARD_A_GRAM, warp=WARP):
    return pack(wanted, warp, pieces, keep_back, grist, cones, buffered)


def taken(packing, use):
    return {line.cone_id: line.ends or line.length_um // YD for line in packing.lines if line.use == use}


def test_warp_is_cut_in_whole_ends_and_the_sum_of_floors_counts():
    packing = packed(need(ends=6), [cone(1, 35, lot=1), cone(2, 39, lot=1)])
    assert packing.ends_served == 6
    assert not packed(need(ends=7), [cone(1, 35, lot=1), cone(2, 39, lot=1)]).complete  # 74 yd


def test_732_yd_at_12_yd_give_61_ends():
    """Common practice, no source."""
    packing = packed(need(ends=61), [cone(1, 732)], warp=12 * YD)
    assert packing.complete
    assert packing.lot_ends[0].ends == 61


def test_an_end_that_misses_by_a_milligram_is_not_an_end():
    almost = ConeStock(1, None, 99_999)
    assert packed(need(ends=10), [almost]).ends_served == 9


def test_warp_lengths_kept_back_for_knots_are_not_cut():
    cones = [cone(1, 50, lot=1), cone(2, 15, lot=1)]
    packing = packed(need(ends=5), cones, keep_back=2)
    assert (packing.ends_served, packing.ends_missing) == (3, 2)


def test_warp_comes_from_one_lot_if_any_can_serve_it():
    cones = [cone(1, 60, lot=1), cone(2, 70, lot=2), cone(3, 50, lot=1)]
    packing = packed(need(ends=10), cones)
    assert packing.warp_lots == (1,)
    assert taken(packing, "warp") == {1: 6, 3: 4}
    assert [(lot.lot, lot.cone_ids, lot.ends) for lot in packing.lot_ends] == [(1, (1, 3), 11), (2, (2,), 7)]


def test_of_several_lots_the_smallest_that_suffices_is_taken():
    cones = [cone(1, 300, lot=1), cone(2, 110, lot=2), cone(3, 200, lot=3)]
    assert packed(need(ends=10), cones).warp_lots == (2,)


def test_a_lot_that_serves_the_weft_as_well_goes_before_a_smaller_one():
    cones = [cone(1, 300, lot=1), cone(2, 110, lot=2), cone(3, 200, lot=3)]
    packing = packed(need(ends=10, piece=90), cones)
    assert (packing.warp_lots, packing.weft_lots, packing.weft_other_lot) == ((3,), (3,), False)


def test_where_no_lot_serves_the_warp_the_fewest_lots_do():
    cones = [cone(1, 40, lot=1), cone(2, 70, lot=2), cone(3, 50, lot=3), cone(4, 30, lot=4)]
    packing = packed(need(ends=11), cones)
    assert packing.complete
    assert packing.warp_lots == (
        2,
        1,
    )  # the last is the smallest that suffices: 4 ends from the lot that has 4


def test_each_cone_of_unknown_lot_is_a_lot_of_its_own():
    packing = packed(need(ends=10), [cone(1, 60), cone(2, 60)])
    assert packing.complete
    assert packing.warp_lots == (None, None)
    assert len(packing.lot_ends) == 2


def test_within_a_lot_the_fewest_cones_are_opened_and_the_last_is_the_smallest_that_suffices():
    cones = [cone(1, 50, lot=1), cone(2, 30, lot=1), cone(3, 20, lot=1), cone(4, 10, lot=1)]
    assert taken(packed(need(ends=7), cones), "warp") == {1: 5, 3: 2}


def test_what_is_left_of_a_cone_is_weft_before_another_is_opened():
    packing = packed(need(ends=10, piece=30), [cone(1, 115, lot=1), cone(2, 90, lot=1)])
    assert taken(packing, "warp") == {1: 10}
    assert taken(packing, "weft") == {1: 15, 2: 15}


def test_weft_that_the_warps_lot_cannot_serve_comes_whole_from_one_other_lot():
    # The warp takes 100 yd of the smallest lot that serves it, and leaves 20; the weft takes 120 yd.
    cones = [cone(1, 150, lot=1), cone(2, 95, lot=2), cone(3, 120, lot=3)]
    packing = packed(need(ends=10, piece=40), cones, pieces=3)
    assert (packing.warp_lots, packing.weft_lots, packing.weft_other_lot) == ((3,), (1,), True)


def test_of_several_lots_that_serve_the_weft_the_smallest_is_taken():
    cones = [cone(1, 90, lot=1), cone(2, 60, lot=2), cone(3, 40, lot=3)]
    assert packed(need(piece=50), cones).weft_lots == (2,)


def test_weft_from_several_lots_changes_lot_only_between_pieces_and_takes_the_warps_lot_first():
    cones = [cone(1, 159, lot=1), cone(2, 95, lot=2)]
    packing = packed(need(ends=10, piece=25), cones, pieces=5)
    assert packing.complete
    assert taken(packing, "weft") == {1: 50, 2: 75}
    assert packing.weft_lots == (1, 2)


def test_weft_that_would_change_lot_inside_a_piece_is_not_there():
    cones = [cone(1, 159, lot=1), cone(2, 99, lot=2)]
    packing = packed(need(ends=10, piece=40), cones, pieces=3)  # 59 and 99 yd: 120 yd are needed
    assert (packing.pieces_served, packing.complete) == (2 + 1, True)
    packing = packed(need(ends=10, piece=50), cones, pieces=3)  # 158 yd for 150 yd, in pieces 1 + 1
    assert (packing.pieces_served, packing.complete) == (2, False)
    assert packing.weft_missing_um == 1 * YD  # 49 yd of lot 2 are left for the third piece
    assert packing.weft_missing_new_lot_um == 50 * YD  # but a lot 3 would have to hold all of it


def test_the_sample_may_come_from_any_one_lot():
    cones = [cone(1, 100, lot=1), cone(2, 30, lot=2)]
    packing = packed(need(piece=50, sample=30), cones, pieces=2)
    assert packing.complete
    assert taken(packing, "weft") == {1: 100, 2: 30}
    assert not packed(need(piece=50, sample=31), cones, pieces=2).complete


def test_the_warp_lot_is_chosen_so_that_the_weft_comes_out():
    # Warp fits in either lot. From lot 1 (the smaller) it leaves 40 + 110, three pieces of 45 do not come out
    # (0 + 2); from lot 2 it leaves 140 + 10 (3 + 0).
    cones = [cone(1, 140, lot=1), cone(2, 110, lot=2)]
    packing = packed(need(ends=10, piece=45), cones, pieces=3)
    assert packing.complete
    assert packing.warp_lots == (2,)
    cones = [cone(1, 140, lot=1), cone(2, 150, lot=2), cone(3, 84, lot=3)]
    packing = packed(
        need(ends=10, piece=42), cones, pieces=6
    )  # from lot 1: 40 + 150 + 84; from lot 2: 140 + 50 + 84
    assert packing.complete
    assert packing.warp_lots == (2,)


def test_the_one_lot_of_three_that_leaves_the_weft_whole_gives_the_warp():
    # Seven pieces of 45 yd: less 100 yd of warp, lots 1 and 2 leave room for six in all, lot 3 for seven.
    cones = [cone(1, 140, lot=1), cone(2, 141, lot=2), cone(3, 150, lot=3)]
    packing = packed(need(ends=10, piece=45), cones, pieces=7)
    assert (packing.complete, packing.warp_lots) == (True, (3,))


def test_the_warp_lot_is_chosen_so_that_the_sample_comes_out_too():
    # Less 100 yd of warp: lot 1 leaves 43 + 157, three pieces and no 44 yd; lot 2 leaves 143 + 57, which does.
    packing = packed(need(ends=10, piece=45, sample=44), [cone(1, 143, lot=1), cone(2, 157, lot=2)], pieces=3)
    assert (packing.complete, packing.warp_lots) == (True, (2,))


def test_the_sample_is_taken_where_it_costs_fewest_pieces():
    # From lot 1 it leaves 60 + 70, from lot 2 it would leave 90 + 40: a piece fewer.
    packing = packed(need(piece=50, sample=30), [cone(1, 90, lot=1), cone(2, 70, lot=2)], pieces=3)
    assert packing.pieces_served == 2
    assert taken(packing, "weft") == {1: 80, 2: 70}  # 20 yd of the third piece are there
    assert packing.weft_missing_um == 30 * YD


def test_what_is_there_is_listed_when_it_is_not_enough():
    packing = packed(need(ends=10, piece=50), [cone(1, 65, lot=1)])
    assert (packing.ends_served, packing.ends_missing) == (6, 4)
    assert taken(packing, "weft") == {1: 5}
    assert packing.weft_missing_um == 45 * YD


def test_no_cones_serve_nothing_and_no_need_needs_none():
    packing = packed(need(ends=3, piece=5, sample=2), [], pieces=2)
    assert (packing.lines, packing.ends_missing, packing.weft_missing_um) == ((), 3, 12 * YD)
    assert packed(need(), []).complete


def test_lines_never_weigh_more_than_is_free_though_each_is_rounded_up():
    # 3 um to 2 mg: neither the warp's 100 um nor the weft's 50 um is whole milligrams.
    grist = Grist(3, 2)
    packing = pack(Need("A", 1, 1, 50, 50, 0, 0), 100, 1, 0, grist, [ConeStock(1, None, 100)], False)
    assert packing.complete
    assert [line.mass_mg for line in packing.lines] == [67, 33]


def test_the_buffered_need_is_proposed_if_it_is_there():
    proposal = propose(need(ends=10, spare=1), WARP, 1, 0, YARD_A_GRAM, [cone(1, 110)])
    assert (proposal.buffered, proposal.complete) == (True, True)
    assert proposal.lines[0].ends == 11


def test_else_the_bare_need_is_proposed():
    proposal = propose(need(ends=10, spare=1), WARP, 1, 0, YARD_A_GRAM, [cone(1, 109)])
    assert (proposal.buffered, proposal.complete) == (False, True)
    assert proposal.lines[0].ends == 10


def test_else_as_much_of_it_as_is_there_and_the_rest_is_a_shortage():
    proposal = propose(need(ends=10, spare=1, piece=20), WARP, 1, 0, YARD_A_GRAM, [cone(1, 99)])
    assert (proposal.buffered, proposal.complete) == (False, False)
    assert (proposal.short_ends, proposal.short_weft_um) == (1, 11 * YD)
    assert sum(line.length_um for line in proposal.lines) == 99 * YD


def test_a_buffer_is_no_reason_to_mix_lots():
    cones = [cone(1, 100, lot=1), cone(2, 50, lot=2)]
    proposal = propose(need(ends=10, spare=1), WARP, 1, 0, YARD_A_GRAM, cones)
    assert (proposal.buffered, proposal.warp_lots) == (False, (1,))
    mixed = propose(need(ends=12, spare=1), WARP, 1, 0, YARD_A_GRAM, cones)
    assert (mixed.buffered, mixed.warp_lots) == (True, (1, 2))


def test_the_order_in_which_cones_are_given_changes_nothing():
    cones = [cone(number, 40 + 7 * number, lot=number % 2) for number in range(6)]
    wanted = need(ends=12, piece=30, sample=11)
    assert packed(wanted, cones, pieces=3) == packed(wanted, cones[::-1], pieces=3)


def test_a_cone_does_not_hold_less_than_nothing():
    with pytest.raises(CalcError) as caught:
        ConeStock(1, None, -1)
    assert caught.value.field == "free_mg"


def test_a_need_is_not_less_with_its_buffer_than_without():
    with pytest.raises(CalcError) as caught:
        Need("A", 10, 9, 0, 0, 0, 0)
    assert caught.value.field == "ends_buffered"


def test_a_warp_of_no_length_cannot_be_packed():
    with pytest.raises(CalcError):
        packed(need(ends=1), [cone(1, 1)], warp=0)


shelves = st.lists(st.tuples(st.sampled_from([None, 1, 2, 3]), st.integers(0, 120)), max_size=7).map(
    lambda rows: [cone(number, yards, lot) for number, (lot, yards) in enumerate(rows)]
)
needs = st.builds(
    need,
    ends=st.integers(0, 25),
    spare=st.integers(0, 3),
    piece=st.integers(0, 60),
    sample=st.integers(0, 40),
)


def lots_of(cones):
    """{lot, or the cone where the lot is not known: its cones}"""
    found = {}
    for one in cones:
        found.setdefault(("cone", one.id) if one.lot is None else ("lot", one.lot), []).append(one)
    return found


@given(needs, shelves, st.integers(1, 4), st.integers(0, 1))
@settings(max_examples=200)
def test_a_packing_adds_up_and_keeps_every_rule(wanted, cones, pieces, keep_back):
    packing = packed(wanted, cones, pieces, keep_back)
    by_id = {one.id: one for one in cones}
    lots = lots_of(cones)
    lot_of = {one.id: name for name, members in lots.items() for one in members}
    warp = [line for line in packing.lines if line.use == "warp"]
    weft = [line for line in packing.lines if line.use == "weft"]

    assert packing.ends_served + packing.ends_missing == wanted.ends
    assert sum(line.ends for line in warp) == packing.ends_served
    assert all(line.length_um == line.ends * WARP and line.ends > 0 for line in warp)
    assert all(line.ends == 0 and line.length_um > 0 for line in weft)
    assert sum(line.length_um for line in weft) + packing.weft_missing_um == wanted.weft_um(pieces)
    assert bool(packing.weft_missing_um) == bool(packing.weft_missing_new_lot_um)
    if packing.weft_missing_um and not warp:
        further = cone(99, packing.weft_missing_new_lot_um // YD, lot=99)
        assert packed(replace(wanted, ends=0), [*cones, further], pieces, keep_back).complete
    for lines in (warp, weft):
        assert len({line.cone_id for line in lines}) == len(lines)
    for number, one in by_id.items():
        assert sum(line.mass_mg for line in packing.lines if line.cone_id == number) <= one.free_mg
    for line in warp:
        assert line.ends <= by_id[line.cone_id].free_mg // 10_000 - keep_back

    holds = {
        name: sum(max(0, one.free_mg // 10_000 - keep_back) for one in members)
        for name, members in lots.items()
    }
    used = {lot_of[line.cone_id] for line in warp}
    assert packing.ends_missing == max(0, wanted.ends - sum(holds.values()))
    if not packing.ends_missing:
        fewest = next(
            number
            for number in range(len(lots) + 1)
            if any(sum(holds[name] for name in some) >= wanted.ends for some in combinations(lots, number))
        )
        assert len(used) == fewest
    if packing.complete and len({lot_of[line.cone_id] for line in weft}) > 1:
        in_lot = {}
        for line in weft:
            name = lot_of[line.cone_id]
            in_lot[name] = in_lot.get(name, 0) + line.length_um
        samples = [
            length % wanted.weft_piece_um if wanted.weft_piece_um else length for length in in_lot.values()
        ]
        assert sum(1 for rest in samples if rest) <= 1  # only the sample is not whole pieces
    assert serves(wanted, WARP, pieces, keep_back, YARD_A_GRAM, cones) == packing.complete


@given(shelves, st.integers(0, 60), st.integers(0, 40), st.integers(1, 4))
@settings(max_examples=150)
def test_weft_alone_is_found_whenever_any_division_into_lots_gives_it(cones, piece, sample, pieces):
    wanted = need(piece=piece, sample=sample)
    rests = [sum(one.free_mg // 1000 for one in members) for members in lots_of(cones).values()]

    def room(after_sample):
        return sum(rest // piece for rest in after_sample) if piece else pieces

    possible = not piece and not sample
    possible = possible or any(rest >= pieces * piece + sample for rest in rests)
    for at, rest in enumerate(rests):
        if rest >= sample:
            possible = possible or room([*rests[:at], rest - sample, *rests[at + 1 :]]) >= pieces
    assert packed(wanted, cones, pieces).complete == possible
