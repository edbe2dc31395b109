"""The nearest shade: of the same yarn, or of one of the same fibre and nearly the same grist.

How near is the CIEDE2000 difference of two colours of the screen: a hint, since a shade is judged by eye and daylight.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from stash.calc.colour import difference, lab_of
from stash.calc.colour_order import Item, Order, Repeat, Run
from stash.calc.grist import Grist
from stash.calc.most import NO_STOCK, Stock
from stash.calc.needs import work_out
from stash.calc.packing import ConeStock, of_another_shade
from stash.calc.verdict import Verdict, judge
from stash.calc.ways.tried import Tried, Way, try_worked

MOST_GRIST_APART = Fraction(1, 10)
"""A yarn whose length per mass differs by more is another cloth (common practice: 5 to 10 %)."""
OFFERED = 3
FARTHEST_OFFERED = 25.0
"""Beyond it is another colour: of those the nearest alone is offered."""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Another shade and what of it is free; `colour` is #rrggbb, or empty where none is known."""

    id: int
    colour: str
    grist: Grist
    cones: Sequence[ConeStock]


@dataclass(frozen=True, slots=True)
class NearShade(Way):
    key: str
    """The key that is short."""
    neighbour: Neighbour
    gap: float | None
    """CIEDE2000; None where one of the two has no colour."""
    weft_key: str = ""
    """Where the weft alone is of the other shade: the key that stands for it in the pick order."""

    @property
    def looks_near(self) -> bool:
        return self.gap is not None and self.gap <= FARTHEST_OFFERED


def near_in_grist(one: Grist, other: Grist) -> bool:
    """Within 10 % in length per mass, of the first."""
    return abs(other.um_per_mg - one.um_per_mg) <= MOST_GRIST_APART * one.um_per_mg


def nearest(
    colour: str, grist: Grist, neighbours: Sequence[Neighbour]
) -> list[tuple[float | None, Neighbour]]:
    """Those near enough in grist, the nearest colour first and those without one last."""
    own = lab_of(colour) if colour else None
    found: list[tuple[float | None, Neighbour]] = [
        (difference(own, lab_of(one.colour)) if own and one.colour else None, one)
        for one in neighbours
        if near_in_grist(grist, one.grist)
    ]
    return sorted(found, key=lambda pair: (pair[0] is None, pair[0] or 0.0, pair[1].id))


def near_shades(
    before: Tried, colours: Mapping[str, str], neighbours: Mapping[str, Sequence[Neighbour]]
) -> list[NearShade]:
    """For each short shade up to three that serve in its place, and one that serves its weft alone, nearest first.

    `colours` and `neighbours` are by key. Only a shade that serves the whole of what it is to replace is offered.
    """
    found: list[NearShade] = []
    for short in before.short:
        key = short.key
        near = nearest(colours.get(key, ""), before.stock.get(key, NO_STOCK).grist, neighbours.get(key, ()))
        found += _instead(before, key, near)
        need = short.need
        if need.ends and (need.weft_piece_um or need.weft_sample_um):
            found += _in_the_weft(before, key, near)
    return found


def _instead(before: Tried, key: str, near: Sequence[tuple[float | None, Neighbour]]) -> list[NearShade]:
    asked = next(need for need in before.worked.needs if need.key == key)
    plan = before.plan
    found: list[NearShade] = []
    for gap, one in near:
        if found and (len(found) == OFFERED or gap is None or gap > FARTHEST_OFFERED):
            break
        need = of_another_shade(asked.need)
        verdict = judge(need, asked.warp_um, asked.pieces, plan.keep_back, one.grist, one.cones)
        if verdict.state == Verdict.SHORT:
            continue
        after = replace(
            before,
            stock={**before.stock, key: Stock(one.grist, one.cones)},
            verdicts={**before.verdicts, key: verdict},
        )
        found.append(NearShade(before, after, key, one, gap))
    return found


def _in_the_weft(before: Tried, key: str, near: Sequence[tuple[float | None, Neighbour]]) -> list[NearShade]:
    used = {need.key for need in before.worked.needs} | {wish.key for wish in before.plan.wishes}
    weft_key = next((letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if letter not in used), "")
    if not weft_key or not near:
        return []
    plan = before.plan
    hem = plan.hem
    if hem.pick_order:
        hem = replace(hem, pick_order=with_key(hem.pick_order, key, weft_key))
    plan = replace(plan, pick_order=with_key(plan.pick_order, key, weft_key), hem=hem)
    worked = work_out(plan)
    asked = next(need for need in worked.needs if need.key == weft_key)
    for gap, one in near:
        if (
            judge(asked.need, asked.warp_um, asked.pieces, plan.keep_back, one.grist, one.cones).state
            == Verdict.SHORT
        ):
            continue
        after = try_worked(worked, {**before.stock, weft_key: Stock(one.grist, one.cones)}, before.usable_um)
        if after.verdicts[key].state == Verdict.SHORT:
            return []  # the warp alone is short as well, whichever shade the weft is of
        return [NearShade(before, after, key, one, gap, weft_key)]
    return []


def with_key(order: Order, key: str, other: str) -> Order:
    """The order with every thread of `key` under the key `other` instead."""
    return Order(_with_key(order.items, key, other))


def _with_key(items: tuple[Item, ...], key: str, other: str) -> tuple[Item, ...]:
    found: list[Item] = []
    for item in items:
        if isinstance(item, Repeat):
            found.append(Repeat(item.times, _with_key(item.items, key, other)))
        else:
            found.append(Run(item.number, other) if item.key == key else item)
    return tuple(found)
