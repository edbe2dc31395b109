"""All ways out of what keeps a plan from being woven, the ones that cure it first."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from stash.calc.most import Stock
from stash.calc.plan import Plan
from stash.calc.reorder.put_ups import Offered
from stash.calc.verdict import Verdict
from stash.calc.ways.buying import buying
from stash.calc.ways.fewer_pieces import fewer_pieces
from stash.calc.ways.fewer_repeats import fewer_repeats
from stash.calc.ways.fewer_warps import fewer_warps
from stash.calc.ways.leaner import leaner
from stash.calc.ways.less_waste import Waste, less_waste
from stash.calc.ways.moving import Later, moving
from stash.calc.ways.near_shade import Neighbour, near_shades
from stash.calc.ways.other_lots import lot_inside_piece, two_warps
from stash.calc.ways.tried import Tried, Way, try_plan
from stash.calc.ways.turned import turned
from stash.calc.ways.without_wish import without_wish

MOST_OF_A_KIND = 3


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What is known around a plan; everything by its keys. `stock` is what is free for it."""

    stock: Mapping[str, Stock]
    colours: Mapping[str, str] = field(default_factory=dict)
    neighbours: Mapping[str, Sequence[Neighbour]] = field(default_factory=dict)
    put_ups: Mapping[str, int] = field(default_factory=dict)
    no_more: Collection[str] = ()
    """Keys of shades that are no more made."""
    sold: Mapping[str, Sequence[Offered]] = field(default_factory=dict)
    """What suppliers sell a shade in: of these, those that come in time, else those that are known to come soonest."""
    one_more: Collection[str] = ()
    """Keys of shades of which one put-up more is bought, so that a lot lasts."""
    later: Sequence[Later] = ()
    wastes: Sequence[Waste] = ()
    usable_um: int | None = None
    """Width in the reed that the loom takes, its clearance taken off; None where no loom is chosen."""
    step_um: int = 1
    """To what a width is rounded down where one has to be found."""


@dataclass(frozen=True, slots=True)
class WaysOut:
    before: Tried
    ways: tuple[Way, ...]

    @property
    def wanted(self) -> bool:
        return wants_a_way(self.before)

    @property
    def curing(self) -> tuple[Way, ...]:
        return tuple(way for way in self.ways if way.cures)

    @property
    def helping(self) -> tuple[Way, ...]:
        """Those that leave less missing and do not cure alone."""
        return tuple(way for way in self.ways if not way.cures)


def wants_a_way(before: Tried) -> bool:
    return before.state != Verdict.ENOUGH or bool(before.mixed) or not before.fits


def ways_out(plan: Plan, around: Surroundings) -> WaysOut:
    """Every way that cures the plan or leaves less missing, each worked out anew and judged for all shades.

    Ways that cost the cloth nothing come first. Raises CalcError where the plan itself cannot be woven.
    """
    before = try_plan(plan, around.stock, around.usable_um)
    if not wants_a_way(before):
        return WaysOut(before, ())
    shades = near_shades(before, around.colours, around.neighbours)
    asked: list[Way | None] = [
        *less_waste(before, around.wastes),
        *leaner(before),
        without_wish(before),
        lot_inside_piece(before),
        two_warps(before),
        *moving(before, around.later),
        *(way for way in shades if way.looks_near),
        fewer_warps(before),
        *fewer_pieces(before),
        fewer_repeats(before, around.step_um),
        turned(before),
        *(way for way in shades if not way.looks_near),
        buying(before, around.put_ups, around.no_more, around.sold, around.one_more),
    ]
    return WaysOut(before, _worth_saying([way for way in asked if way is not None and way.helps]))


def _worth_saying(ways: Sequence[Way]) -> tuple[Way, ...]:
    """Of each kind up to three that cure; of those that do not, where none of their kind does, the one that leaves
    least missing."""
    cures: list[Way] = []
    best: dict[type[Way], Way] = {}
    for way in ways:
        kind = type(way)
        if way.cures:
            if sum(type(other) is kind for other in cures) < MOST_OF_A_KIND:
                cures.append(way)
        elif kind not in best or way.after.short_mass_mg < best[kind].after.short_mass_mg:
            best[kind] = way
    curing = {type(way) for way in cures}
    return (*cures, *(way for kind, way in best.items() if kind not in curing))
