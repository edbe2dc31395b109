"""Of many small invented studios: each group of a proposal can be accepted alone, and all can together."""

from datetime import date, timedelta
from random import Random

import pytest

from projects.proposing.accepting import refuse_changed
from projects.proposing.gathering import Gathered, Part, Party, ShelfCone, ShelfShade, Wanted
from projects.proposing.proposal import Proposal, in_turn, is_served
from projects.proposing.solving import solve
from stash.calc.grist import Grist
from stash.calc.packing import Need
from stash.calc.ways.moving import Demand


def studio(seed: int) -> Gathered:
    """Up to four projects over up to two shades of a few cones; some hold what they would have reserved in their turn."""
    random = Random(seed)
    cones: dict[int, ShelfCone] = {}
    for shade in (1, 2):
        for _ in range(random.randint(1, 4)):
            pk, lot = len(cones) + 1, random.choice([None, 1, 2])
            lot_id = None if lot is None else shade * 10 + lot
            cones[pk] = ShelfCone(
                pk, f"K-{pk}", shade, lot_id, str(lot or ""), "", random.randint(10, 120), 0, True
            )
    parties = tuple(
        Party(
            pk,
            f"Project {pk}",
            date(2031, 1, 1) + timedelta(days=random.randint(0, 3)),
            random.randint(1, 9),
            1,
            pk,
            tuple(_wanted(random, shade, cones) for shade in (1, 2) if random.random() < 0.8),
            (),
        )
        for pk in range(1, random.randint(2, 4) + 1)
    )
    parties = tuple(sorted(parties, key=lambda party: (party.need_on, party.rank, party.pk)))
    shades = {pk: ShelfShade(pk, f"Shade {pk}", "", "") for pk in (1, 2)}
    gathered = Gathered(parties, (), shades, cones)
    held = in_turn(gathered)
    return Gathered(
        tuple(_holding(party, held[party.pk] if random.random() < 0.6 else ()) for party in parties),
        (),
        shades,
        cones,
    )


def _wanted(random: Random, shade: int, cones: dict[int, ShelfCone]) -> Wanted:
    ends, piece, sample = random.randint(0, 8), random.randint(0, 6), random.randint(0, 3)
    wish, lot = "any", None
    if random.random() < 0.3:
        wish = random.choice(["same", "lot"])
        lots = [cone.lot_id for cone in cones.values() if cone.shade_id == shade and cone.lot_id]
        lot = random.choice(lots) if wish == "lot" and lots else None
        wish = "same" if lot is None else wish
    need = Need(
        "AB"[shade - 1], ends, ends + ends // 4, piece, piece + 1 if piece else 0, sample, sample, wish, lot
    )
    return Wanted(
        shade, Demand(need, random.randint(3, 9), random.randint(1, 4), random.randint(0, 1), Grist(1, 1))
    )


def _holding(party: Party, parts: tuple[Part, ...]) -> Party:
    return Party(
        party.pk, party.name, party.need_on, party.rank, party.version, party.claim_id, party.wanted, parts
    )


def solved(seed: int) -> Proposal:
    return solve(studio(seed), lambda words, done=0, total=0: None)


@pytest.mark.parametrize("first", range(0, 40, 20))
def test_each_group_fits_by_itself_and_all_do_together(first):
    changing = 0
    for seed in range(first, first + 20):
        proposal = solved(seed)
        groups = set(proposal.groups.values())
        for group in groups:
            refuse_changed(proposal, group, proposal.gathered.moving_only(group))
        if groups:
            refuse_changed(proposal, list(proposal.groups), proposal.gathered)
        changing += bool(groups)
        for party in proposal.gathered.parties:
            served = is_served(party, proposal.given[party.pk], proposal.gathered.cones)
            assert served or party.pk in proposal.short, (seed, party.name)
    assert changing > 5
