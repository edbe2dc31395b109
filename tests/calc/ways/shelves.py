"""Shelves and scarves for the tests of the ways out, small enough to be reckoned in the head. All invented."""

from fractions import Fraction
from typing import Any

from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.grist import Grist
from stash.calc.most import Stock
from stash.calc.packing import ConeStock
from stash.calc.plan import Plan
from tests.calc.plans import IN, YD, a_plan

YARD_A_GRAM = Grist(YD, 1000)


def scarves(**changes: Any) -> Plan:
    """Five pieces of 36 x 36 in: 36 ends of A, a yard of warp a piece; 36 picks of B a piece, a yard each."""
    facts: dict[str, Any] = {
        "pieces": 5,
        "across_um": 36 * IN,
        "along_um": 36 * IN,
        "sett": Density(Fraction(1)),
        "picks": Density(Fraction(1)),
        "order": read_order("1 A"),
        "pick_order": read_order("1 B"),
    }
    return a_plan(**facts | changes)


def cone(number: int, yards: int, lot: int | None = 1) -> ConeStock:
    return ConeStock(number, lot, yards * 1000)


def shelf(**cones: list[ConeStock] | int) -> dict[str, Stock]:
    """Stock at a yard a gram: a list of cones, or the yards of one cone of lot 1."""
    return {
        key: Stock(YARD_A_GRAM, found if isinstance(found, list) else [cone(1, found)])
        for key, found in cones.items()
    }
