"""Pure calc: a plan of 2,000 ends and 12 shades, each on five cones in two lots."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from stash.calc.colour_order import read_order
from stash.calc.density import UM_PER_INCH as INCH
from stash.calc.density import Density
from stash.calc.grist import Grist
from stash.calc.most import Stock, most_pieces
from stash.calc.needs import work_out
from stash.calc.packing import ConeStock
from stash.calc.plan import Plan
from stash.calc.verdict import judge

KEYS = "ABCDEFGHIJKL"


def calls() -> dict[str, Callable[[], object]]:
    """What is timed, by name."""
    plan = _plan()
    worked = work_out(plan)
    assert worked.width.ends == 2_000 and len(worked.needs) == len(KEYS)
    grist = Grist.from_yd_per_lb(Fraction(3_360))
    stock = {
        need.key: Stock(
            grist,
            [
                # Enough and to spare for some shades, not enough for others, so that both ways are walked.
                ConeStock(10 * at + cone, cone % 2, need.buffered_total_um * (14 + at) // 100 // 7 + 1)
                for cone in range(5)
            ],
        )
        for at, need in enumerate(worked.needs)
    }

    def need_and_verdict() -> None:
        found = work_out(plan)
        for need in found.needs:
            shelf = stock[need.key]
            judge(need.need, found.length.warp_um, plan.pieces, plan.keep_back, shelf.grist, shelf.cones)

    return {
        "need": lambda: work_out(plan),
        "need and verdict": need_and_verdict,
        "most pieces": lambda: most_pieces(plan, stock),
    }


def _plan() -> Plan:
    """Stripes of 8 or 9 ends, a hundred to the repeat, twenty times; woven 40 ends to the inch."""
    order = ", ".join(f"{9 if at < 4 else 8} {key}" for at, key in enumerate(KEYS))
    return Plan(
        pieces=12,
        across_um=45 * INCH,
        along_um=60 * INCH,
        losses_across=(Fraction(1, 10),),
        losses_along=(Fraction(1, 10),),
        take_up=Fraction(1, 20),
        waste_um=27 * INCH,
        sett=Density(Fraction(40)),
        picks=Density(Fraction(36)),
        order=read_order(order),
        order_fills=True,
        pick_order=read_order(", ".join(f"{3 + at} {key}" for at, key in enumerate(KEYS)), word="picks"),
    )
