"""What put-aside parts serve, each for its own use; and which projects hang together."""

from dataclasses import replace

import pytest

from projects.proposing.coverage import covers
from projects.proposing.gathering import Gathered, Part, Party, ShelfCone, ShelfShade, Wanted
from projects.proposing.proposal import Proposal
from projects.proposing.reasons import Reasons
from stash.calc.grist import Grist
from stash.calc.packing import Need
from stash.calc.verdict import Verdict
from stash.calc.ways.moving import Demand
from tests.projects.proposing.competing import EXACT

# A um weighs a mg; ends of 10 um; 4 pieces of 5 um of weft, with the buffer 6, and a sample of 3.
NEED = Need("A", 6, 7, 5, 6, 3, 3)
WANTED = Wanted(1, Demand(NEED, 10, 4, 0, Grist(1, 1)))
CONES = {
    pk: ShelfCone(pk, f"K-{pk}", 1, lot, str(lot), "", 100, 0, True) for pk, lot in ((1, 1), (2, 1), (3, 2))
}
UNKNOWN = replace(CONES[1], id=4, lot_id=None, lot="")


def warp(cone: int, ends: int) -> Part:
    return Part(cone, "warp", ends, ends * 10, ends * 10)


def weft(cone: int, um: int) -> Part:
    return Part(cone, "weft", 0, um, um)


@pytest.mark.parametrize(
    ("parts", "state", "short_ends", "short_weft"),
    [
        ([], Verdict.SHORT, 6, 23),
        ([warp(1, 7), weft(1, 27)], Verdict.ENOUGH, 0, 0),
        ([warp(1, 6), weft(1, 23)], Verdict.TIGHT, 0, 0),
        ([warp(1, 7), weft(1, 23)], Verdict.TIGHT, 0, 0),
        ([warp(1, 5), weft(1, 23)], Verdict.SHORT, 1, 0),
        # Spare warp is no weft.
        ([warp(1, 9), weft(1, 20)], Verdict.SHORT, 0, 3),
        # Two pieces of each lot, the sample of the second; then 2 um too few for that.
        ([warp(1, 6), weft(1, 10), weft(3, 13)], Verdict.TIGHT, 0, 0),
        ([warp(1, 6), weft(1, 12), weft(3, 11)], Verdict.SHORT, 0, 1),
        # Within a lot it is joined.
        ([warp(1, 6), weft(1, 12), weft(2, 11)], Verdict.TIGHT, 0, 0),
    ],
)
def test_each_part_serves_its_own_use(parts, state, short_ends, short_weft):
    found = covers(WANTED, parts, CONES)
    assert (found.state, found.short_ends, found.short_weft_um) == (state, short_ends, short_weft)
    assert found.short_mass_mg == short_ends * 10 + short_weft


def test_a_wish_counts_only_what_it_lets_serve():
    of_lot_2 = replace(WANTED, demand=replace(WANTED.demand, need=replace(NEED, wish="lot", wish_lot_id=2)))
    assert covers(of_lot_2, [warp(1, 6), weft(3, 23)], CONES).short_ends == 6
    same = replace(WANTED, demand=replace(WANTED.demand, need=replace(NEED, wish="same")))
    assert covers(same, [warp(1, 6), weft(3, 23)], CONES).state == Verdict.SHORT
    assert covers(same, [warp(1, 6), weft(2, 23)], CONES).state == Verdict.TIGHT


def test_each_cone_of_an_unknown_lot_is_one_of_its_own():
    cones = CONES | {4: UNKNOWN, 5: replace(UNKNOWN, id=5)}
    assert covers(WANTED, [warp(4, 3), warp(5, 3), weft(1, 23)], cones).lots_mixed


def proposal(before: dict[int, list[Part]], after: dict[int, list[Part]]) -> Proposal:
    parties = tuple(
        Party(pk, f"Project {pk}", None, 5, 1, pk, (WANTED,), tuple(sorted(parts)))
        for pk, parts in before.items()
    )
    gathered = Gathered(parties, (), {1: ShelfShade(1, "Spruce", "", "")}, CONES)
    return Proposal(gathered, {pk: tuple(sorted(parts)) for pk, parts in after.items()}, EXACT)


def test_who_takes_what_another_holds_hangs_together_with_him():
    found = proposal({1: [warp(1, 8)], 2: [], 3: []}, {1: [warp(2, 8)], 2: [warp(1, 9)], 3: [warp(3, 9)]})
    assert found.groups == {1: (1, 2), 2: (1, 2), 3: (3,)}


def test_who_takes_what_nobody_holds_stands_alone_though_others_change_on_that_cone():
    found = proposal({1: [warp(1, 5)], 2: []}, {1: [], 2: [warp(1, 5)]})
    assert found.groups == {1: (1,), 2: (2,)}


def test_a_chain_of_three_is_one_group_and_who_keeps_his_is_in_none():
    found = proposal(
        {1: [warp(1, 9)], 2: [warp(2, 9)], 3: [], 4: [weft(3, 5)]},
        {1: [warp(2, 9)], 2: [warp(3, 9)], 3: [warp(1, 9)], 4: [weft(3, 5)]},
    )
    assert found.groups == dict.fromkeys((1, 2, 3), (1, 2, 3))


def test_what_is_kept_back_for_knots_binds_as_what_is_taken():
    """Of 100 mg the second takes 50 and keeps 10 back; 45 of what the first holds are free only once it moves."""
    before, after = {1: [warp(1, 4), weft(1, 5)], 2: []}, {1: [weft(1, 5)], 2: [warp(1, 5)]}
    assert proposal(before, after).groups == {1: (1,), 2: (2,)}
    knots = replace(WANTED, demand=replace(WANTED.demand, keep_back=1))
    found = proposal(before, after)
    gathered = replace(
        found.gathered, parties=tuple(replace(party, wanted=(knots,)) for party in found.gathered.parties)
    )
    assert replace(found, gathered=gathered).groups == {1: (1, 2), 2: (1, 2)}


def test_a_warp_that_is_mixed_for_the_sake_of_others_says_so():
    """By itself it would be of lot 1, which another needs whole."""
    found = proposal({1: [], 2: []}, {1: [warp(1, 4), warp(3, 2), weft(3, 23)], 2: [warp(2, 7), weft(2, 27)]})
    reasons = Reasons(found).of(found.gathered.parties[0], WANTED)
    assert "The warp is of 2 lots so that others are served too; by itself it would be of 1." in reasons
    assert not [one for one in Reasons(found).of(found.gathered.parties[1], WANTED) if "lots" in one]
