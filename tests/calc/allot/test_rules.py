"""The rules of an allotment, each on a shelf made for it. All figures invented."""

import pytest

from stash.calc.allot import Lacking, allot, check_allotment
from stash.calc.errors import CalcError
from stash.calc.packing import Line
from tests.calc.allot.shelves import asks, given, package, share_of
from tests.calc.plans import YD

pytestmark = pytest.mark.once


def allotted(asked, packages):
    found = allot(asked, packages, deadline_s=20)
    assert check_allotment(asked, packages, found) == ()
    return found


def standing(found):
    return {project.project_id: project.standing for project in found.projects}


def held(cone, ends, warp=10):
    return (Line(cone, "warp", ends, ends * warp * YD, ends * warp * 1000),)


class TestWhoIsServed:
    def test_two_who_would_take_the_same_cone_are_both_served(self):
        # Alone the first would take cone 2, the only one that the second can do with.
        found = allotted(
            [asks(1, ends=5), asks(2, ends=4, wish="lot", lot=20)],
            [package(1, 100, lot=10), package(2, 50, lot=20)],
        )
        assert standing(found) == {1: "served", 2: "served"}
        assert given(found, 1) == {(1, "warp"): 5}
        assert found.served_proven and found.lots_proven

    def test_the_earlier_day_goes_before_the_better_rank(self):
        found = allotted([asks(1, ends=5, day=9, rank=1), asks(2, ends=5, day=8, rank=9)], [package(1, 50)])
        assert found.served == (2,)

    def test_on_the_same_day_rank_decides(self):
        found = allotted([asks(1, ends=5, day=8, rank=4), asks(2, ends=5, day=8, rank=3)], [package(1, 50)])
        assert found.served == (2,)

    def test_one_without_a_day_comes_last(self):
        from dataclasses import replace

        without = replace(asks(1, ends=5, rank=1), need_on=None)
        assert allotted([without, asks(2, ends=5, rank=9)], [package(1, 50)]).served == (2,)

    def test_one_early_project_goes_before_any_number_of_later_ones(self):
        asked = [asks(1, ends=10), *(asks(project, ends=1) for project in range(2, 8))]
        assert allotted(asked, [package(1, 105)]).served == (1,)

    def test_a_project_is_served_only_if_all_its_shades_are(self):
        asked = [
            asks(1, ends=5),
            asks(1, ends=5, shade=2, key="B"),
            asks(2, ends=5, shade=2, key="B"),
            asks(3, ends=5),
        ]
        found = allotted(asked, [package(1, 50), package(2, 40, shade=2)])
        assert standing(found) == {1: "short", 2: "short", 3: "served"}
        assert given(found, 1) == {}
        assert found.projects[0].lacking == (Lacking(2, "B", "alone"),)

    def test_who_is_short_is_told_who_goes_before(self):
        found = allotted([asks(1, ends=3), asks(2, ends=3), asks(3, ends=3)], [package(1, 70)])
        assert found.projects[2].lacking == (Lacking(1, "A", "before", (1, 2)),)

    def test_lots_are_mixed_where_a_later_project_could_not_be_served_otherwise(self):
        asked = [asks(1, ends=5), asks(2, ends=5, wish="same")]
        found = allotted(asked, [package(1, 50, lot=10), package(2, 30, lot=20), package(3, 30, lot=30)])
        assert found.served == (1, 2)
        share = share_of(found, 1)
        assert (set(share.warp_lots), share.warp_lots_alone) == ({20, 30}, 1)

    def test_lots_are_not_mixed_for_more_than_that(self):
        asked = [asks(1, ends=5), asks(2, ends=5)]
        shelf = [
            package(1, 50, lot=10),
            package(2, 30, lot=20),
            package(3, 30, lot=30),
            package(4, 55, lot=40),
        ]
        found = allotted(asked, shelf)
        assert {share.warp_lots for share in found.shares} == {(10,), (40,)}


class TestWhatOthersKeep:
    def test_who_is_not_served_keeps_what_harms_nobody(self):
        asked = [asks(1, ends=5), asks(2, ends=9, held=held(1, 2))]
        found = allotted(asked, [package(1, 80)])
        assert standing(found) == {1: "served", 2: "short"}
        assert given(found, 2) == {(1, "warp"): 2}
        assert not share_of(found, 2).changed

    def test_who_is_not_served_gives_what_another_needs(self):
        asked = [asks(1, ends=5), asks(2, ends=9, held=held(1, 4))]
        found = allotted(asked, [package(1, 80)])
        assert given(found, 2) == {}
        assert share_of(found, 2).changed

    def test_nobody_gives_for_the_buffer_of_another(self):
        asked = [asks(1, ends=5, spare=1), asks(2, ends=9, held=held(1, 3))]
        found = allotted(asked, [package(1, 80)])
        assert not share_of(found, 1).buffered
        assert given(found, 2) == {(1, "warp"): 3}

    def test_yarn_of_one_already_begun_stays_where_it_is(self):
        asked = [asks(1, ends=5), asks(2, ends=4, fixed=True, held=held(2, 4))]
        found = allotted(asked, [package(1, 30, lot=10), package(2, 90, lot=10)])
        assert standing(found) == {1: "served", 2: "fixed"}
        assert given(found, 2) == {(2, "warp"): 4}
        assert given(found, 1) == {(2, "warp"): 5}

    def test_begun_and_undercut_by_the_scale_it_still_stays(self):
        asked = [asks(1, ends=1), asks(2, ends=4, fixed=True, held=held(1, 4))]
        found = allotted(asked, [package(1, 30)])
        assert standing(found) == {1: "short", 2: "fixed"}
        assert given(found, 2) == {(1, "warp"): 4}


class TestBuffers:
    def test_a_buffer_waits_until_all_have_their_bare_need(self):
        found = allotted([asks(1, ends=5, spare=1), asks(2, ends=5)], [package(1, 100)])
        assert found.served == (1, 2)
        assert not share_of(found, 1).buffered

    def test_who_goes_first_has_his_buffer_first(self):
        found = allotted([asks(1, ends=4, spare=1), asks(2, ends=4, spare=1)], [package(1, 90)])
        assert [share.buffered for share in found.shares] == [True, False]

    def test_a_buffer_is_no_reason_to_mix_lots(self):
        asked = [asks(1, ends=5, spare=1), asks(2, ends=5, spare=1)]
        found = allotted(asked, [package(1, 50, lot=10), package(2, 50, lot=20), package(3, 9, lot=20)])
        assert all(len(share.warp_lots) == 1 for share in found.shares)


class TestWeft:
    def test_no_lot_changes_inside_a_piece(self):
        asked = [asks(1, piece=30, pieces=3), asks(2, ends=1)]
        found = allotted(asked, [package(1, 50, lot=10), package(2, 65, lot=20), package(3, 20, lot=30)])
        assert found.served == (1, 2)
        assert given(found, 1) == {(1, "weft"): 30, (2, "weft"): 60}

    def test_where_only_parts_of_pieces_would_fit_it_is_short(self):
        found = allotted(
            [asks(1, piece=30, pieces=3), asks(2, ends=1)], [package(1, 50, lot=10), package(2, 59, lot=20)]
        )
        assert found.served == (2,)


class TestPackagesFedAtOnce:
    def test_two_at_once_are_wound_from_two_cones_where_that_mixes_nothing(self):
        asked = [asks(1, ends=8, at_once=2), asks(2, ends=3, at_once=2)]
        found = allotted(asked, [package(1, 100, lot=10), package(2, 100, lot=10)])
        assert found.reports[0].way == "solver"
        assert [share.wound_over for share in found.shares] == [0, 0]
        assert given(found, 1) == {(1, "warp"): 4, (2, "warp"): 4}

    def test_one_whom_nobody_contests_is_wound_from_two_as_well(self):
        found = allotted([asks(1, ends=8, at_once=2)], [package(1, 100, lot=10), package(2, 100, lot=10)])
        assert found.reports[0].way == "proposals"
        assert share_of(found, 1).wound_over == 0
        assert given(found, 1) == {(1, "warp"): 4, (2, "warp"): 4}

    def test_one_cone_has_to_be_wound_over(self):
        found = allotted([asks(1, ends=8, at_once=2)], [package(1, 100, lot=10)])
        assert share_of(found, 1).wound_over == 4


class TestWhatIsLeft:
    def test_what_is_kept_back_for_knots_is_there_beside_what_others_take(self):
        asked = [asks(1, ends=3, keep_back=1), asks(2, ends=2)]
        shelf = [package(1, 45, lot=10), package(2, 25, lot=20)]
        assert given(allotted(asked, shelf), 2) == {(2, "warp"): 2}
        assert allotted(asked, [package(1, 55, lot=10)]).served == (1,)
        assert allotted(asked, [package(1, 60, lot=10)]).served == (1, 2)

    def test_the_rests_are_long_enough_to_be_of_use(self):
        # Of cone 1 the two leave nothing, of the others each alone a stub.
        asked = [asks(1, ends=4), asks(2, ends=4)]
        found = allotted(asked, [package(1, 80, lot=10), package(2, 46, lot=20), package(3, 47, lot=30)])
        assert {cone for share in found.shares for cone in {line.cone_id for line in share.lines}} == {1}
        report = found.reports[0]
        assert (report.way, report.opened, report.opened_least) == ("solver", 1, 1)
        # Whole cones of others are no stubs.
        assert report.stub_mg == 0

    def test_weft_is_taken_so_that_no_stub_is_left(self):
        asked = [asks(1, ends=3), asks(2, piece=24)]
        found = allotted(asked, [package(1, 34, lot=10), package(2, 50, lot=10)])
        assert found.reports[0].stub_mg == 0


class TestInput:
    def test_nobody_asks_for_anything(self):
        assert allotted([], [package(1, 50)]).projects == ()

    def test_a_shade_without_cones(self):
        assert allotted([asks(1, ends=1)], []).projects[0].lacking == (Lacking(1, "A", "alone"),)

    def test_a_project_that_needs_nothing_is_served(self):
        assert allotted([asks(1)], []).served == (1,)

    def test_the_same_key_twice_is_refused(self):
        with pytest.raises(CalcError, match="twice under one key"):
            allot([asks(1, ends=1), asks(1, ends=2)], [], deadline_s=1)

    def test_two_days_of_one_project_are_refused(self):
        with pytest.raises(CalcError, match="different days"):
            allot([asks(1, ends=1), asks(1, ends=2, key="B", day=8)], [], deadline_s=1)
