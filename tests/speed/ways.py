"""Ways out of a shortage: a plan of 1,000 ends and 6 shades over a shelf of 1,000 cones, with all that is around it."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from stash.calc.colour_order import read_order
from stash.calc.density import UM_PER_INCH as INCH
from stash.calc.density import Density
from stash.calc.grist import Grist
from stash.calc.most import Stock
from stash.calc.needs import work_out
from stash.calc.packing import ConeStock
from stash.calc.plan import Plan
from stash.calc.ways.less_waste import Waste
from stash.calc.ways.moving import Demand, Later
from stash.calc.ways.near_shade import Neighbour
from stash.calc.ways.ways_out import Surroundings, ways_out

KEYS = "ABCDEF"
CONES = 1_000
SHADES = 50
"""On the shelf, of 20 cones each: six of the plan, the others in their place if need be."""
GRIST = Grist.from_yd_per_lb(Fraction(3_360))


def calls() -> dict[str, Callable[[], object]]:
    """What is timed, by name."""
    plan = a_plan()
    around = surroundings(plan)
    found = ways_out(plan, around)
    assert len({type(way) for way in found.ways}) >= 7, "a shelf on which ways of most kinds are found"
    return {"ways out": lambda: ways_out(plan, around)}


def a_plan() -> Plan:
    """Stripes of 100 ends to the repeat, ten times; sample and header too."""
    order = "20 A, 10 B, 15 C, 25 D, 20 E, 10 F"
    return Plan(
        pieces=12,
        across_um=45 * INCH,
        along_um=60 * INCH,
        losses_across=(Fraction(1, 10),),
        losses_along=(Fraction(1, 10),),
        take_up=Fraction(1, 20),
        waste_um=30 * INCH,
        sett=Density(Fraction(20)),
        picks=Density(Fraction(18)),
        order=read_order(order),
        order_fills=True,
        pick_order=read_order(order, word="picks"),
        sample_um=12 * INCH,
        header_um=4 * INCH,
    )


def surroundings(plan: Plan) -> Surroundings:
    """Two of the six shades are short, by a little and by much; of the others there is a plenty, in two lots."""
    worked = work_out(plan)
    assert worked.width.ends == 1_000 and len(worked.needs) == len(KEYS)
    each = CONES // SHADES
    per_cent = {"A": 95, "B": 70}
    stock = {}
    for at, need in enumerate(worked.needs):
        mass = int(GRIST.mass_mg_of(need.buffered_total_um)) * per_cent.get(need.key, 200) // 100
        stock[need.key] = Stock(GRIST, _cones(at * each, each, mass))
    most = max(need.buffered_total_um for need in worked.needs)
    others = [
        Neighbour(
            at,
            f"#{40 + 4 * at:02x}{90 - at:02x}{80 + 2 * at:02x}",
            GRIST,
            _cones(at * each, each, int(GRIST.mass_mg_of(most)) * (60 + at) // 100),
        )
        for at in range(len(KEYS), SHADES)
    ]
    later = []
    for at in range(5):
        demands = {
            need.key: Demand(need.need, need.warp_um, need.pieces, 0, GRIST) for need in worked.needs[:2]
        }
        held = {
            key: {cone.id: int(GRIST.mass_mg_of(most)) // 40 for cone in stock[key].cones} for key in demands
        }
        later.append(Later(at, held, demands))
    return Surroundings(
        stock=stock,
        colours=dict(
            zip(KEYS, ("#2f5d50", "#8c2f2f", "#303c64", "#c8b070", "#554433", "#99aa77"), strict=True)
        ),
        neighbours=dict.fromkeys(KEYS, others),
        put_ups=dict.fromkeys(KEYS, 250000),
        later=later,
        wastes=[Waste(f"loom {at}", at * 3 * INCH) for at in range(4, 10)],
        usable_um=58 * INCH,
        step_um=INCH // 8,
    )


def _cones(first: int, number: int, mass_mg: int) -> list[ConeStock]:
    return [ConeStock(first + at, at % 2, mass_mg // number) for at in range(number)]
