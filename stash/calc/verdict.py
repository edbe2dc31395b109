"""Verdict: is there enough of a shade, and if not, what is missing. The words stand elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from math import ceil

from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need, Proposal, propose, without_wishes


class Verdict(IntEnum):
    """From worst to best, so that the worst of several is the least."""

    SHORT = 1
    """Less than the bare need is there."""
    TIGHT = 2
    """The bare need is there, the buffer is not."""
    ENOUGH = 3


@dataclass(frozen=True, slots=True)
class ShadeVerdict:
    """Figures in whole ends, um and mg. What is short is short of the bare need.

    `free_mg` and `free_um` are of the cones that the wish for lots lets serve together: of the one lot that is wished
    for, or of the best one where it is left open which.
    """

    state: Verdict
    need: Need
    free_mg: int
    free_um: int
    proposal: Proposal
    short_ends: int
    short_warp_um: int
    short_weft_um: int
    """Least further weft that would do, if it is of a lot already begun."""
    short_weft_new_lot_um: int
    """What a further lot must hold for the weft, since the lot never changes inside a piece."""
    short_mass_mg: int
    without_wish: Verdict | None = None
    """Where a wish for lots is in the way of enough: what it would be with any lot. None where there is no wish, or
    where the wish costs nothing."""

    @property
    def key(self) -> str:
        return self.need.key

    @property
    def short_um(self) -> int:
        return self.short_warp_um + self.short_weft_um

    @property
    def lots_mixed(self) -> bool:
        """The warp of this shade comes from more than one lot."""
        return len(self.proposal.warp_lots) > 1

    @property
    def weft_other_lot(self) -> bool:
        """Some weft comes from another lot than the warp of this shade."""
        return self.proposal.packing.weft_other_lot

    @property
    def weft_lots(self) -> int:
        """How many lots give the weft."""
        return len(self.proposal.weft_lots)


def judge(
    need: Need, warp_um: int, pieces: int, keep_back: int, grist: Grist, cones: Sequence[ConeStock]
) -> ShadeVerdict:
    """`cones` are what is free for this project: on hand less what is reserved for others."""
    proposal = propose(need, warp_um, pieces, keep_back, grist, cones)
    state = _state(proposal)
    without_wish = None
    if need.wish != "any":
        if state != Verdict.ENOUGH:
            other = _state(propose(without_wishes(need), warp_um, pieces, keep_back, grist, cones))
            without_wish = other if other > state else None
        together = {cone_id for lot in proposal.packing.lot_ends for cone_id in lot.cone_ids}
        cones = [cone for cone in cones if cone.id in together]
    short_warp = proposal.short_ends * warp_um
    return ShadeVerdict(
        state=state,
        need=need,
        free_mg=sum(cone.free_mg for cone in cones),
        free_um=sum(cone.free_mg * grist.length_um // grist.mass_mg for cone in cones),
        proposal=proposal,
        short_ends=proposal.short_ends,
        short_warp_um=short_warp,
        short_weft_um=proposal.short_weft_um,
        short_weft_new_lot_um=proposal.short_weft_new_lot_um,
        short_mass_mg=ceil(grist.mass_mg_of(short_warp + proposal.short_weft_um)),
        without_wish=without_wish,
    )


def _state(proposal: Proposal) -> Verdict:
    if not proposal.complete:
        return Verdict.SHORT
    return Verdict.ENOUGH if proposal.buffered else Verdict.TIGHT


def worst(verdicts: Iterable[ShadeVerdict]) -> Verdict:
    """The project's verdict is its worst shade's; a project without shades has enough."""
    return min((verdict.state for verdict in verdicts), default=Verdict.ENOUGH)
