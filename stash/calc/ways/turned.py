"""Turn the piece by 90 degrees: what lay across the warp lies along it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from stash.calc.errors import CalcError
from stash.calc.plan import Plan
from stash.calc.ways.tried import Tried, Way, cured, try_plan


@dataclass(frozen=True, slots=True)
class Turned(Way):
    orders_turned: bool
    """True: the pick order has become the colour order of the warp, and the other way round, so that the cloth looks
    the same. False: both orders stay, and the stripes run the other way."""


def turned(before: Tried) -> Turned | None:
    """Sizes change places; losses, sett and picks belong to their direction and stay. Hems stay at the cut ends.

    Turned with its orders if that cures it, else with the orders as they stand if that does; else whichever leaves
    less missing, so that a page may say what remains. None where it cannot be woven so, or nothing would be turned.
    """
    ways = []
    for with_orders in (True, False):
        plan = _turned(before.plan, with_orders)
        if plan is None or plan == before.plan:
            continue
        try:
            after = try_plan(plan, before.stock, before.usable_um)
        except CalcError:
            continue  # too many ends or picks this way round
        way = Turned(before, after, with_orders)
        if cured(before, after):
            return way
        ways.append(way)
    return min(ways, key=lambda way: (not way.after.fits, way.after.short_mass_mg), default=None)


def _turned(plan: Plan, with_orders: bool) -> Plan | None:
    if not plan.order_fills:
        return None  # the order is the width: turned, it would be the same ends again
    try:
        sides = replace(plan, across_um=plan.along_um, along_um=plan.across_um)
    except CalcError:
        return None  # the hems would be longer than the piece
    if not with_orders:
        return sides
    # What has a place of its own in the warp would have to be placed anew in the weft, and by hand.
    if plan.border or plan.accents or plan.beams:
        return None
    return replace(sides, order=plan.pick_order, pick_order=plan.order, balance_ends=0)
