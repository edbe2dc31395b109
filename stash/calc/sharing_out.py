"""Sharing out: which cones of a lot give how many ends, so that as little as can be is wound over.

A warp is put aside from the fewest cones. Where several ends of a shade are wound at once that is seldom how it
is wound: two cones that stand side by side had better give half each than one be wound over on to the other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stash.calc.errors import CalcError
from stash.calc.passes import Pass


@dataclass(frozen=True, slots=True)
class Share:
    """A cone: the ends it gives so far, and the most whole ends that it could give."""

    cone_id: int
    key: str
    lot: int | None
    """None: not known, so that it is a lot of its own."""
    ends: int
    room: int

    def __post_init__(self) -> None:
        if not self.ends >= 0:
            raise CalcError("A cone gives no less than no ends.", field="ends")


def share_out(passes: Sequence[Pass], cones: Sequence[Share]) -> Mapping[int, int]:
    """Ends by cone: as many of each lot as before, moved from the fullest cones to others that have room.

    No cone is asked beyond its room, and none gives more ends than before unless passes need it. Cones that stay
    as they are keep their ends.
    """
    ends = {cone.cone_id: cone.ends for cone in cones}
    for key in dict.fromkeys(key for one in passes for key in one.keys):
        counts = [one.keys.count(key) for one in passes if key in one.keys]
        of_key = [cone for cone in cones if cone.key == key]
        for level in range(max(counts), 0, -1):
            at_least = [number for number in counts if number >= level]
            # What all passes need that need this much, but not more threads than so many packages hold.
            needed = level * len(at_least) + sum(number - level for number in at_least)
            _move(of_key, ends, len(at_least), needed)
    return ends


def _move(cones: Sequence[Share], ends: dict[int, int], passes: int, needed: int) -> None:
    """Move ends from cones that give more than so many passes take, within their lot, while any is lacking."""
    lacking = needed - sum(min(ends[cone.cone_id], passes) for cone in cones)
    for giver in sorted(cones, key=lambda cone: -ends[cone.cone_id]):
        if lacking <= 0:
            return
        takers = [cone for cone in cones if cone is not giver and cone.lot == giver.lot is not None]
        for taker in sorted(takers, key=lambda cone: (-ends[cone.cone_id], -cone.room)):
            moved = min(
                lacking,
                ends[giver.cone_id] - passes,
                min(passes, taker.room) - ends[taker.cone_id],
            )
            if moved > 0:
                ends[giver.cone_id] -= moved
                ends[taker.cone_id] += moved
                lacking -= moved
