"""Plans for the tests: one to change a field of, and a Hypothesis strategy for many. All invented."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from hypothesis import strategies as st

from stash.calc.accents import Accent
from stash.calc.beams import Beam
from stash.calc.colour_order import Item, Order, Repeat, Run, read_order
from stash.calc.density import UM_PER_CM, UM_PER_INCH, Density
from stash.calc.errors import CalcError
from stash.calc.fringe import Fringe
from stash.calc.grist import UM_PER_YD
from stash.calc.hems import Hem
from stash.calc.needs import work_out
from stash.calc.plan import Plan
from stash.calc.selvedges import Selvedges

IN = UM_PER_INCH
YD = UM_PER_YD


def a_plan(**changes: Any) -> Plan:
    """Four mats of 14 x 20 in, A and B alternating, nothing added that a test did not ask for."""
    order = read_order("1 A, 1 B")
    facts: dict[str, Any] = {
        "pieces": 4,
        "across_um": 14 * IN,
        "along_um": 20 * IN,
        "losses_across": (Fraction(0),),
        "losses_along": (Fraction(0),),
        "take_up": Fraction(0),
        "waste_um": 0,
        "sett": Density(Fraction(12)),
        "picks": Density(Fraction(10)),
        "order": order,
        "order_fills": True,
        "pick_order": order,
        "gap_um": 0,
        "weft_take_up": Fraction(0),
        "tail_um": 0,
        "warp_buffer": Fraction(0),
        "weft_buffer": Fraction(0),
        "board_um": 0,
    }
    return Plan(**facts | changes)


def order_of(*runs: tuple[int, str]) -> Order:
    return Order(tuple(Run(number, key) for number, key in runs))


runs = st.builds(Run, st.integers(1, 9), st.sampled_from(["A", "B", "C", "AB"]))


def _repeats(items: st.SearchStrategy[Item]) -> st.SearchStrategy[Item]:
    return st.builds(Repeat, st.integers(1, 4), st.lists(items, min_size=1, max_size=3).map(tuple))


items = st.recursive(runs, _repeats, max_leaves=6)
orders = st.lists(items, min_size=1, max_size=4).map(lambda found: Order(tuple(found)))

shares = st.integers(0, 30).map(lambda percent: Fraction(percent, 100))
densities = st.builds(
    Density, st.integers(4, 30).map(Fraction), st.sampled_from([UM_PER_INCH, 2 * UM_PER_CM])
)


@st.composite
def plans(draw: st.DrawFn, **fixed: Any) -> Plan:
    """Plans of a household size, in eighths of an inch, with anything that a weaver may fill in."""
    eighths = IN // 8
    order_fills = draw(st.booleans())
    order = draw(orders)
    facts: dict[str, Any] = {
        "pieces": draw(st.integers(1, 12)),
        "across_um": draw(st.integers(16, 300)) * eighths,
        "along_um": draw(st.integers(16, 400)) * eighths,
        "hem_um": draw(st.integers(0, 24)) * eighths,
        "gap_um": draw(st.integers(0, 24)) * eighths,
        "sample_um": draw(st.integers(0, 100)) * eighths,
        "header_um": draw(st.integers(0, 24)) * eighths,
        "losses_across": tuple(draw(st.lists(shares, min_size=1, max_size=2))),
        "losses_along": tuple(draw(st.lists(shares, min_size=1, max_size=2))),
        "take_up": draw(shares),
        "waste_um": draw(st.integers(0, 400)) * eighths,
        "sett": draw(densities),
        "picks": draw(densities),
        "order": order,
        "order_fills": order_fills,
        "balance_ends": draw(st.integers(0, min(4, order.length))) if order_fills else 0,
        "pick_order": draw(orders),
        "weft_take_up": draw(shares),
        "tail_um": draw(st.integers(0, 64)) * eighths,
        "carry_picks": draw(st.integers(0, 8)),
        "warp_buffer": draw(shares),
        "weft_buffer": draw(shares),
        "board_um": draw(st.sampled_from([0, 228_600, 250_000])),
    }
    return Plan(**facts | fixed)


hems = st.builds(
    Hem,
    st.sampled_from(["given", "single", "double", "small", "strip"]),
    st.integers(0, 8).map(lambda eighths: eighths * IN // 8),
    st.integers(0, 4).map(lambda eighths: eighths * IN // 8),
    st.none() | densities,
    st.none() | orders,
)
fringes = st.builds(
    Fringe,
    st.integers(1, 48).map(lambda eighths: eighths * IN // 8),
    shares,
    st.booleans(),
    st.integers(0, 24).map(lambda eighths: eighths * IN // 8),
)


@st.composite
def whole_plans(draw: st.DrawFn, **fixed: Any) -> Plan:
    """Plans with anything at their edges and ends too: hems or fringes, selvedges, borders, accents, beams, kits."""
    plan = draw(plans())
    threads = plan.order.length
    facts: dict[str, Any] = {
        "selvedges": Selvedges(
            draw(st.booleans()),
            draw(st.sampled_from(["", "F"])),
            draw(st.integers(0, min(3, threads // 2))),
            draw(st.sampled_from(["heddle", "dent", "apart"])),
        ),
        "border": draw(st.none() | orders) if plan.order_fills else None,
        "accents": draw(
            st.lists(st.builds(Accent, st.integers(1, 2), st.just("R"), st.integers(0, threads)), max_size=2)
        ),
        "accent_way": "added",
        "accents_in_weft": draw(st.booleans()),
        "whole_pick_repeats": draw(st.booleans()),
        "warps": draw(st.integers(1, 4)),
        "beams": (Beam(2, draw(shares), ("B",)),) if draw(st.booleans()) else (),
    }
    facts["accents"] = tuple(facts["accents"])
    if draw(st.booleans()):
        front = draw(st.integers(0, 8))
        facts |= {"fringe": draw(fringes), "hem_um": 0, "waste_front_um": plan.waste_um * front // 8}
    else:
        facts["hem"] = draw(hems)
    plan = replace(plan, **facts | fixed)
    try:
        work_out(plan)
    except CalcError:
        # A piece may be too short for the accents of a wide warp; that is refused, and tested elsewhere.
        plan = replace(plan, accents_in_weft=False)
    return plan
