"""Lot wishes: what a wish costs, and that it never gives more than no wish. All figures invented."""

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.lot_wish import ShadeWish, wished
from stash.calc.needs import with_wishes, work_out
from stash.calc.packing import ConeStock, Need, of_another_shade, pack, propose, serves, without_wishes
from stash.calc.verdict import Verdict, judge
from stash.calc.ways.buying import buying
from stash.calc.ways.near_shade import Neighbour
from stash.calc.ways.other_lots import lot_inside_piece
from stash.calc.ways.tried import try_plan
from stash.calc.ways.ways_out import Surroundings, ways_out
from stash.calc.ways.without_wish import WithoutWish, without_wish
from tests.calc.plans import YD
from tests.calc.ways.shelves import cone as shelf_cone
from tests.calc.ways.shelves import scarves, shelf

pytestmark = pytest.mark.once

YARD_A_GRAM = Grist(YD, 1000)
WARP = 10 * YD


def cone(number, yards, lot=None):
    return ConeStock(id=number, lot=lot, free_mg=yards * 1000)


def need(ends=0, spare=0, piece=0, buffer=0, wish="any", lot=None, of_cone=None):
    """Weft in yards a piece; `buffer` is in yards too."""
    return Need("A", ends, ends + spare, piece * YD, (piece + buffer) * YD, 0, 0, wish, lot, of_cone)


def packed(wanted, cones, pieces=1, buffered=False):
    return pack(wanted, WARP, pieces, 0, YARD_A_GRAM, cones, buffered)


def judged(wanted, cones, pieces=1):
    return judge(wanted, WARP, pieces, 0, YARD_A_GRAM, cones)


def missing(packing):
    return packing.ends_missing * WARP + packing.weft_missing_um


# A shelf of two lots and a cone of unknown lot: 8, 6 and 5 ends.
SHELF = [cone(1, 50, 1), cone(2, 30, 1), cone(3, 60, 2), cone(4, 50)]


class TestEachWish:
    def test_a_lot_alone_serves_and_no_other(self):
        packing = packed(need(ends=6, wish="lot", lot=2), SHELF)
        assert packing.complete
        assert {line.cone_id for line in packing.lines} == {3}
        assert packed(need(ends=7, wish="lot", lot=2), SHELF).ends_missing == 1

    def test_a_cone_alone_serves_though_its_lot_has_more(self):
        assert packed(need(ends=5, wish="cone", of_cone=1), SHELF).complete
        assert packed(need(ends=6, wish="cone", of_cone=1), SHELF).ends_missing == 1

    def test_a_cone_of_unknown_lot_may_be_wished_for(self):
        packing = packed(need(ends=5, wish="cone", of_cone=4), SHELF)
        assert packing.complete
        assert packing.warp_lots == (None,)

    def test_one_lot_for_warp_and_weft_is_the_smallest_that_serves_both(self):
        packing = packed(need(ends=4, piece=15, wish="same"), SHELF)
        assert packing.complete
        assert {line.cone_id for line in packing.lines} == {3}

    def test_one_lot_for_both_is_short_where_only_two_serve(self):
        # 8 ends of lot 1 leave no weft there; lot 2 has it.
        assert packed(need(ends=8, piece=20), SHELF).complete
        assert not packed(need(ends=8, piece=20, wish="same"), SHELF).complete

    def test_cones_of_unknown_lot_are_never_one_lot(self):
        cones = [cone(1, 50), cone(2, 50)]
        assert packed(need(ends=10), cones).complete
        assert packed(need(ends=10, wish="same"), cones).ends_missing == 5

    def test_the_whole_buffer_in_a_larger_lot_goes_before_the_smallest_lot(self):
        found = propose(need(ends=6, spare=1, wish="same"), WARP, 1, 0, YARD_A_GRAM, SHELF)
        assert found.buffered
        assert {line.cone_id for line in found.lines} == {1, 2}

    def test_a_lot_or_a_cone_of_which_nothing_is_there_gives_nothing(self):
        for wanted in (
            need(ends=2, piece=5, wish="lot", lot=9),
            need(ends=2, piece=5, wish="cone", of_cone=9),
        ):
            packing = packed(wanted, SHELF)
            assert packing.lines == ()
            assert (packing.ends_missing, packing.weft_missing_um) == (2, 5 * YD)

    def test_an_empty_shelf_is_short_under_every_wish(self):
        for wish in ({"wish": "same"}, {"wish": "lot", "lot": 1}, {"wish": "cone", "of_cone": 1}):
            assert judged(need(ends=1, **wish), []).state == Verdict.SHORT

    def test_the_answer_does_not_hang_on_the_order_of_the_cones(self):
        wanted = need(ends=2, wish="same")
        cones = [cone(1, 30), cone(2, 30), cone(3, 30, 1)]
        assert packed(wanted, cones) == packed(wanted, cones[::-1])

    def test_groups_stand_for_what_may_serve_together(self):
        assert wished("any", None, None, SHELF) == [SHELF]
        assert [[one.id for one in group] for group in wished("same", None, None, SHELF)] == [
            [1, 2],
            [3],
            [4],
        ]
        assert wished("same", None, None, []) == [[]]


class TestBadWishes:
    @pytest.mark.parametrize(
        ("wish", "lot", "of_cone"),
        [("any", 1, None), ("same", None, 1), ("lot", None, None), ("lot", 1, 1), ("cone", 1, None)],
    )
    def test_a_wish_names_a_lot_or_a_cone_just_where_it_is_for_one(self, wish, lot, of_cone):
        with pytest.raises(CalcError) as refused:
            ShadeWish("A", wish, lot, of_cone)
        assert refused.value.field == "wish"
        with pytest.raises(CalcError):
            need(ends=1, wish=wish, lot=lot, of_cone=of_cone)


class TestVerdict:
    def test_what_is_free_is_of_the_cones_that_the_wish_lets_serve(self):
        assert judged(need(ends=9), SHELF).free_mg == 190_000
        assert judged(need(ends=9, wish="lot", lot=1), SHELF).free_mg == 80_000
        assert judged(need(ends=9, wish="cone", of_cone=4), SHELF).free_mg == 50_000
        assert judged(need(ends=9, wish="same"), SHELF).free_mg == 80_000

    def test_it_says_what_it_would_be_without_the_wish(self):
        assert judged(need(ends=7, spare=1, wish="lot", lot=2), SHELF).without_wish == Verdict.ENOUGH
        assert judged(need(ends=6, spare=1, wish="lot", lot=2), SHELF).without_wish == Verdict.ENOUGH
        assert judged(need(ends=19, spare=1, wish="lot", lot=2), SHELF).without_wish == Verdict.TIGHT

    def test_a_wish_that_costs_nothing_says_nothing(self):
        assert judged(need(ends=6, wish="lot", lot=2), SHELF).without_wish is None
        assert judged(need(ends=99, wish="lot", lot=2), SHELF).without_wish is None
        assert judged(need(ends=99), SHELF).without_wish is None

    def test_a_wish_for_a_lot_never_mixes_lots(self):
        found = judged(need(ends=9, wish="same"), SHELF)
        assert not found.lots_mixed
        assert not found.weft_other_lot


cones_of = st.lists(
    st.tuples(st.integers(0, 45), st.sampled_from([None, 1, 2, 3])), min_size=0, max_size=5
).map(lambda rows: [cone(at, yards, lot) for at, (yards, lot) in enumerate(rows, 1)])
needs_of = st.builds(
    need, ends=st.integers(0, 6), spare=st.integers(0, 2), piece=st.integers(0, 25), buffer=st.integers(0, 5)
)
wishes_of = st.one_of(
    st.just({"wish": "same"}),
    st.integers(1, 4).map(lambda lot: {"wish": "lot", "wish_lot_id": lot}),
    st.integers(1, 6).map(lambda number: {"wish": "cone", "wish_cone_id": number}),
)


class TestLaws:
    @settings(max_examples=300, deadline=None)
    @given(needs_of, wishes_of, cones_of, st.integers(1, 3), st.booleans())
    def test_a_wish_never_gives_more_than_no_wish(self, wanted, wish, cones, pieces, buffered):
        bound = replace(wanted, **wish)
        with_it, without = packed(bound, cones, pieces, buffered), packed(wanted, cones, pieces, buffered)
        assert with_it.ends_served <= without.ends_served
        assert missing(with_it) >= missing(without)
        assert judged(bound, cones, pieces).state <= judged(wanted, cones, pieces).state

    @settings(max_examples=300, deadline=None)
    @given(needs_of, wishes_of, cones_of, st.integers(1, 3))
    def test_only_cones_of_the_wish_are_taken_and_none_beyond_what_it_has(self, wanted, wish, cones, pieces):
        bound = replace(wanted, **wish)
        lots = {one.id: one.lot for one in cones}
        free = {one.id: one.free_mg for one in cones}
        for found in (packed(bound, cones, pieces), propose(bound, WARP, pieces, 0, YARD_A_GRAM, cones)):
            taken = {}
            for line in found.lines:
                taken[line.cone_id] = taken.get(line.cone_id, 0) + line.mass_mg
            assert all(mass <= free[at] for at, mass in taken.items())
            match bound.wish:
                case "lot":
                    assert {lots[at] for at in taken} <= {bound.wish_lot_id}
                case "cone":
                    assert set(taken) <= {bound.wish_cone_id}
                case "same":
                    assert len(taken) <= 1 or {lots[at] for at in taken} in ({1}, {2}, {3})

    @settings(max_examples=300, deadline=None)
    @given(needs_of, cones_of, st.integers(1, 3))
    def test_one_lot_for_both_is_the_best_single_lot(self, wanted, cones, pieces):
        same = replace(wanted, wish="same")
        best = min(
            (missing(packed(wanted, group, pieces)) for group in _lots(cones)),
            default=missing(packed(wanted, [], pieces)),
        )
        assert missing(packed(same, cones, pieces)) == best
        state = max((judged(wanted, group, pieces).state for group in _lots(cones)), default=None)
        assert judged(same, cones, pieces).state == (state or judged(wanted, []).state)

    @settings(max_examples=200, deadline=None)
    @given(needs_of, wishes_of, cones_of, st.integers(1, 3))
    def test_serves_says_what_packing_says(self, wanted, wish, cones, pieces):
        bound = replace(wanted, **wish)
        assert serves(bound, WARP, pieces, 0, YARD_A_GRAM, cones) == packed(bound, cones, pieces).complete

    @settings(max_examples=200, deadline=None)
    @given(needs_of, wishes_of, cones_of, st.integers(1, 3), st.integers(1, 30))
    def test_more_stock_never_serves_less(self, wanted, wish, cones, pieces, more):
        bound = replace(wanted, **wish)
        if cones and serves(bound, WARP, pieces, 0, YARD_A_GRAM, cones):
            first, *others = cones
            richer = [replace(first, free_mg=first.free_mg + more * 1000), *others]
            assert serves(bound, WARP, pieces, 0, YARD_A_GRAM, richer)

    def test_by_a_count_of_its_own_over_every_small_shelf(self):
        """One lot serves if its whole ends suffice and what is left of it does for the weft."""
        for yards, ends, weft in product(product((0, 14, 25, 30), repeat=3), (0, 2, 4), (0, 11)):
            cones = [cone(1, yards[0], 1), cone(2, yards[1], 1), cone(3, yards[2], 2)]

            def can(group, ends=ends, weft=weft):
                whole = sum(one // 10 for one in group)
                return whole >= ends and sum(group) - 10 * ends >= weft

            said = {
                wish: packed(need(ends, piece=weft, **words), cones).complete
                for wish, words in {
                    "same": {"wish": "same"},
                    "lot": {"wish": "lot", "lot": 1},
                    "cone": {"wish": "cone", "of_cone": 2},
                }.items()
            }
            assert said == {
                "same": can(yards[:2]) or can(yards[2:]),
                "lot": can(yards[:2]),
                "cone": can(yards[1:2]),
            }


def _lots(cones):
    lots = {}
    for one in cones:
        lots.setdefault(one.lot or -one.id, []).append(one)
    return list(lots.values())


class TestAPlan:
    def test_wishes_change_nothing_but_the_wishes(self):
        worked = work_out(scarves())
        wish = ShadeWish("A", "lot", 7)
        other = with_wishes(worked, (wish,))
        assert other == work_out(replace(scarves(), wishes=(wish,)))
        assert with_wishes(other, ()) == worked

    def test_a_need_of_another_shade_forgets_lots_and_cones_but_not_one_lot_for_both(self):
        assert of_another_shade(need(ends=1, wish="lot", lot=3)) == need(ends=1)
        assert of_another_shade(need(ends=1, wish="cone", of_cone=3)) == need(ends=1)
        assert of_another_shade(need(ends=1, wish="same")).wish == "same"
        assert without_wishes(need(ends=1, wish="same")) == need(ends=1)


def wishing(**wish):
    return scarves(wishes=(ShadeWish(**wish),))


class TestWaysOut:
    def test_letting_a_wish_go_is_a_way_out_where_it_cures(self):
        # 36 ends of 5 yd of A: lot 1 has 20 of them, lot 2 all.
        stock = shelf(A=[shelf_cone(1, 100, 1), shelf_cone(2, 400, 2)], B=1000)
        before = try_plan(wishing(key="A", wish="lot", lot_id=1), stock)
        way = without_wish(before)
        assert before.state == Verdict.SHORT
        assert way.keys == ("A",)
        assert way.cures
        assert way.changes_plan
        assert way.after.plan.wishes == ()

    def test_a_wish_that_is_not_in_the_way_stays(self):
        stock = shelf(A=[shelf_cone(1, 100, 1), shelf_cone(2, 400, 2)], B=[shelf_cone(3, 1000, 3)])
        plan = scarves(wishes=(ShadeWish("A", "lot", 1), ShadeWish("B", "lot", 3)))
        way = without_wish(try_plan(plan, stock))
        assert way.keys == ("A",)
        assert [wish.key for wish in way.after.plan.wishes] == ["B"]

    def test_where_the_yarn_itself_is_missing_no_wish_is_to_blame(self):
        stock = shelf(A=[shelf_cone(1, 100, 1)], B=1000)
        assert without_wish(try_plan(wishing(key="A", wish="lot", lot_id=1), stock)) is None
        assert without_wish(try_plan(scarves(), stock)) is None

    def test_lots_are_not_offered_to_be_mixed_against_a_wish(self):
        # Weft of B: 36 yd a piece; 100 and 80 yd would do if a lot changed inside a piece.
        stock = shelf(A=1000, B=[shelf_cone(1, 100, 1), shelf_cone(2, 80, 2)])
        assert lot_inside_piece(try_plan(scarves(), stock)) is not None
        for wish in ({"wish": "same"}, {"wish": "lot", "lot_id": 1}, {"wish": "cone", "cone_id": 1}):
            assert lot_inside_piece(try_plan(wishing(key="B", **wish), stock)) is None

    def test_among_all_ways_it_is_told(self):
        stock = shelf(A=[shelf_cone(1, 100, 1), shelf_cone(2, 400, 2)], B=1000)
        found = ways_out(wishing(key="A", wish="lot", lot_id=1), Surroundings(stock))
        assert WithoutWish in {type(way) for way in found.curing}

    def test_what_is_bought_must_be_of_the_lot_that_is_wished_for(self):
        # 36 ends of 5 yd of A: lot 1 has 20 of them; put-ups of 50 yd give 10 each.
        stock = shelf(A=[shelf_cone(1, 100, 1)], B=1000)
        (line,) = buying(try_plan(wishing(key="A", wish="lot", lot_id=1), stock), {"A": 50_000}).lines
        assert (line.number, line.matched, line.matched_lot) == (2, 2, 1)
        assert buying(try_plan(wishing(key="A", wish="cone", cone_id=1), stock), {"A": 50_000}) is None

    def test_nothing_is_bought_of_a_shade_that_is_no_more_made(self):
        stock = shelf(A=[shelf_cone(1, 100, 1)], B=1000)
        before = try_plan(scarves(), stock)
        assert buying(before, {"A": 50_000}) is not None
        assert buying(before, {"A": 50_000}, no_more={"A"}) is None

    def test_another_shade_is_judged_without_the_old_ones_lot(self):
        stock = shelf(A=[shelf_cone(1, 100, 1)], B=1000)
        other = Neighbour(9, "", stock["A"].grist, [shelf_cone(8, 900, 8)])
        found = ways_out(
            wishing(key="A", wish="lot", lot_id=1), Surroundings(stock, neighbours={"A": [other]})
        )
        assert any(type(way).__name__ == "NearShade" for way in found.curing)
