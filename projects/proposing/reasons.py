"""Why a project is to have other cones than it has now, in sentences that the figures bear out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from projects.proposing.coverage import Lot, covers, lot_of
from projects.proposing.gathering import Part, Party, ShelfCone, Wanted
from projects.proposing.proposal import Proposal, of_shade, on_cones
from projects.wording import counted, together
from stash.calc.packing import ConeStock
from stash.calc.verdict import Verdict


@dataclass(frozen=True)
class Reasons:
    """`of` gives the sentences of one shade of one project, the weightiest first; empty where nothing changes."""

    proposal: Proposal

    def of(self, party: Party, wanted: Wanted) -> list[str]:
        before = self._parts(party.held, wanted.shade_id)
        after = self._parts(self.proposal.given[party.pk], wanted.shade_id)
        if before == after:
            return []
        found = [
            *self._undercut(before),
            *self._handed_over(party, wanted),
            *self._taken_over(party, wanted),
            *self._left_whole(party, wanted),
            *self._fewer(before, after),
            *self._mixed(wanted, after),
        ]
        if before and covers(wanted, before, self.cones).state == Verdict.SHORT:
            found.insert(0, "What is put aside does not suffice.")
        if found or not before:
            return found
        return [self._otherwise(before, after)]

    def _undercut(self, before: Sequence[Part]) -> list[str]:
        """K-088 holds less than is put aside on it: a weigh-in found so."""
        codes = sorted(
            self.cones[cone_id].code
            for cone_id in on_cones(before)
            if self.cones[cone_id].open_mg < self._held_on.get(cone_id, 0)
        )
        if not codes:
            return []
        one = len(codes) == 1
        return [
            f"{together(codes)} {'holds' if one else 'hold'} less than is put aside on {'it' if one else 'them'}."
        ]

    # --- Who gets what from whom -------------------------------------------------------------------------
    def _handed_over(self, party: Party, wanted: Wanted) -> list[str]:
        """K-014 goes to Runner, which …"""
        lots: dict[tuple[int, Lot], list[str]] = defaultdict(list)
        for cone_id, mg in self._moved(party, wanted.shade_id).items():
            if mg < 0:
                for other in self._takers[cone_id]:
                    if other != party.pk and other in self.proposal.groups[party.pk]:
                        lots[other, lot_of(self.cones[cone_id])].append(self.cones[cone_id].code)
        found = []
        for (pk, lot), codes in lots.items():
            taker = self.parties[pk]
            why = self._why(taker, party, wanted.shade_id, lot)
            found.append(
                f"{together(codes)}{self._of_lot(lot)} {'goes' if len(codes) == 1 else 'go'} to {taker.name}{why}."
            )
        return found

    def _taken_over(self, party: Party, wanted: Wanted) -> list[str]:
        """K-014 of lot 2207 comes from Plain mats; Runner finds its 120 warp ends in no other lot."""
        givers: dict[tuple[int, Lot], list[str]] = defaultdict(list)
        for cone_id, mg in self._moved(party, wanted.shade_id).items():
            if mg > 0:
                for other in self._givers[cone_id]:
                    if other != party.pk and other in self.proposal.groups[party.pk]:
                        givers[other, lot_of(self.cones[cone_id])].append(self.cones[cone_id].code)
        found = []
        for (pk, lot), codes in givers.items():
            own = self._own_need(wanted, lot)
            why = f"; {party.name} {own}" if own else ""
            found.append(
                f"{together(codes)}{self._of_lot(lot)} {'comes' if len(codes) == 1 else 'come'} from "
                f"{self.parties[pk].name}{why}."
            )
        return found

    def _left_whole(self, party: Party, wanted: Wanted) -> list[str]:
        """Lot 2207 is left to Runner, which needs it in one lot: said where it would have taken it by itself, and holds
        nothing of it now."""
        held = {lot_of(self.cones[part.cone_id]) for part in self._parts(party.held, wanted.shade_id)}
        got = {
            lot_of(self.cones[part.cone_id])
            for part in self._parts(self.proposal.given[party.pk], wanted.shade_id)
        }
        found = []
        for lot in sorted(self._alone(wanted) - got - held, key=str):
            other = next((pk for pk in self._given_of[wanted.shade_id, lot] if pk != party.pk), None)
            if other:
                taker = self.parties[other]
                why = self._why(taker, party, wanted.shade_id, lot)
                found.append(f"{self._lot_name(lot)} is left to {taker.name}{why}.")
        return found

    def _why(self, taker: Party, giver: Party, shade_id: int, lot: Lot) -> str:
        """, which finds its 120 warp ends in no other lot; "" where nothing is known."""
        wanted = next((one for one in taker.wanted if one.shade_id == shade_id), None)
        own = self._own_need(wanted, lot) if wanted else ""
        if own:
            return f", which {own}"
        first, second = ((one.need_on or date.max, one.rank) for one in (taker, giver))
        return ", which needs it first" if first < second else ""

    def _own_need(self, wanted: Wanted, lot: Lot) -> str:
        """Why it must be this lot for a project, as what the project does; "" if another would do."""
        need = wanted.demand.need
        wished = self.cones.get(need.wish_cone_id or 0)
        if need.wish == "lot" and need.wish_lot_id == lot[0]:
            return "asks for this lot"
        if need.wish == "cone" and wished and lot_of(wished) == lot:
            return "asks for that very cone"
        if self._serving_lots(wanted) == {lot}:
            what = counted(need.ends, "warp end") if need.ends else "weft"
            return f"finds its {what} in no other lot"
        return ""

    def _serving_lots(self, wanted: Wanted) -> set[Lot]:
        """The lots each of which alone could serve the warp, or the weft of a shade without warp."""
        found: set[Lot] = set()
        by_lot: dict[Lot, list[ConeStock]] = defaultdict(list)
        for cone in self.proposal.gathered.cones_of(wanted.shade_id):
            by_lot[lot_of(cone)].append(ConeStock(cone.id, cone.lot_id, cone.open_mg))
        for lot, stock in by_lot.items():
            packing = wanted.demand.proposed(stock).packing
            if not packing.ends_missing if wanted.demand.need.ends else packing.complete:
                found.add(lot)
        return found

    def _alone(self, wanted: Wanted) -> set[Lot]:
        """The lots that it would take if nobody else wanted any."""
        stock = [
            ConeStock(cone.id, cone.lot_id, cone.open_mg)
            for cone in self.proposal.gathered.cones_of(wanted.shade_id)
        ]
        return {lot_of(self.cones[line.cone_id]) for line in wanted.demand.proposed(stock).lines}

    # --- What is better by itself ------------------------------------------------------------------------
    def _fewer(self, before: Sequence[Part], after: Sequence[Part]) -> list[str]:
        if not before or not after:
            return []
        found = []
        lots = [len({lot_of(self.cones[part.cone_id]) for part in parts}) for parts in (before, after)]
        if lots[1] < lots[0]:
            found.append(f"{counted(lots[1], 'lot')} instead of {lots[0]}.")
        cones = len(on_cones(before)), len(on_cones(after))
        if cones[1] < cones[0]:
            found.append(f"{counted(cones[1], 'cone')} instead of {cones[0]}.")
        return found

    def _mixed(self, wanted: Wanted, after: Sequence[Part]) -> list[str]:
        """The warp is of 2 lots so that others are served too; by itself it would be of 1."""
        lots = len(covers(wanted, after, self.cones).warp_lots)
        if lots < 2:
            return []
        stock = [
            ConeStock(cone.id, cone.lot_id, cone.open_mg)
            for cone in self.proposal.gathered.cones_of(wanted.shade_id)
        ]
        alone = wanted.demand.proposed(stock)
        if not alone.complete or len(alone.warp_lots) >= lots:
            return []
        return [
            f"The warp is of {lots} lots so that others are served too; by itself it would be of {len(alone.warp_lots)}."
        ]

    def _otherwise(self, before: Sequence[Part], after: Sequence[Part]) -> str:
        if not after:
            return "Those that go before are served first."
        if on_cones(before).keys() == on_cones(after).keys():
            return "The same cones in other shares."
        sizes = [
            max(self.cones[cone_id].on_hand_mg for cone_id in on_cones(parts)) for parts in (before, after)
        ]
        if sizes[1] < sizes[0]:
            return "Smaller cones, so that larger ones stay whole."
        return "So that less is left over on cones that are begun."

    # --- Looked up ---------------------------------------------------------------------------------------
    @property
    def cones(self) -> Mapping[int, ShelfCone]:
        return self.proposal.gathered.cones

    @cached_property
    def parties(self) -> dict[int, Party]:
        return {party.pk: party for party in self.proposal.gathered.parties}

    @cached_property
    def _change(self) -> dict[int, dict[int, int]]:
        """mg by project, then by cone: what it gets more, or less than 0."""
        found: dict[int, dict[int, int]] = {}
        for party in self.proposal.gathered.parties:
            before, after = on_cones(party.held), on_cones(self.proposal.given[party.pk])
            found[party.pk] = {
                cone_id: after.get(cone_id, 0) - before.get(cone_id, 0)
                for cone_id in sorted(before.keys() | after.keys())
            }
        return found

    @cached_property
    def _takers(self) -> dict[int, list[int]]:
        return self._those(1)

    @cached_property
    def _givers(self) -> dict[int, list[int]]:
        return self._those(-1)

    def _those(self, sign: int) -> dict[int, list[int]]:
        found: dict[int, list[int]] = defaultdict(list)
        for pk, moved in self._change.items():
            for cone_id, mg in moved.items():
                if mg * sign > 0:
                    found[cone_id].append(pk)
        return found

    def _moved(self, party: Party, shade_id: int) -> dict[int, int]:
        return {
            cone_id: mg
            for cone_id, mg in self._change[party.pk].items()
            if mg and self.cones[cone_id].shade_id == shade_id
        }

    @cached_property
    def _given_of(self) -> Mapping[tuple[int, Lot], list[int]]:
        """Who gets any of a lot, by shade and lot."""
        found: dict[tuple[int, Lot], list[int]] = defaultdict(list)
        for party in self.proposal.gathered.parties:
            for part in self.proposal.given[party.pk]:
                cone = self.cones[part.cone_id]
                found[cone.shade_id, lot_of(cone)].append(party.pk)
        return found

    @cached_property
    def _held_on(self) -> dict[int, int]:
        """mg by cone that is put aside for those who may move."""
        return on_cones(part for party in self.proposal.gathered.parties for part in party.held)

    def _parts(self, parts: Sequence[Part], shade_id: int) -> tuple[Part, ...]:
        return of_shade(parts, shade_id, self.cones)

    def _lot_name(self, lot: Lot) -> str:
        if lot[0] is None:
            return f"Cone {self.cones[lot[1]].code}"
        return f"Lot {self._names[lot[0]]}"

    def _of_lot(self, lot: Lot) -> str:
        return f" of lot {self._names[lot[0]]}" if lot[0] is not None else ""

    @cached_property
    def _names(self) -> dict[int, str]:
        return {cone.lot_id: cone.lot for cone in self.cones.values() if cone.lot_id is not None}
