"""Projects by the service, small enough to be reckoned in the head."""

from fractions import Fraction
from typing import Any

from projects.models import Project
from projects.services.planning import ProjectFacts, save_project
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.plan import Plan
from stash.models import Shade

INCH, YARD = 25_400, 914_400


def plain_plan(**changes: Any) -> Plan:
    """Ten ends of one shade, each one yard long a piece, without losses, waste, buffers or rounding.

    Nine inches of picks at 4 to the inch, 36 a piece, each as wide as the reed: 10 in.
    """
    facts: dict[str, Any] = {
        "pieces": 1,
        "across_um": 10 * INCH,
        "along_um": YARD,
        "losses_across": (Fraction(0),),
        "losses_along": (Fraction(0),),
        "take_up": Fraction(0),
        "waste_um": 0,
        "gap_um": 0,
        "sett": Density(Fraction(1)),
        "picks": Density(Fraction(1)),
        "order": read_order("1 A"),
        "order_fills": True,
        "pick_order": read_order("1 A", word="picks"),
        "weft_take_up": Fraction(0),
        "tail_um": 0,
        "warp_buffer": Fraction(0),
        "weft_buffer": Fraction(0),
        "board_um": 0,
    }
    return Plan(**(facts | changes))


def make_project(
    shades: dict[str, Shade], name: str = "Plain mats", plan: Plan | None = None, **facts: Any
) -> Project:
    """A project by the service. One piece of the plain plan takes 10 yd of warp and 10 yd of weft."""
    known: dict[str, Any] = {"structure": "plain", "piece_name": "mats"}
    return save_project(
        facts=ProjectFacts(
            name=name,
            plan=plan or plain_plan(),
            shades={key: shade.pk for key, shade in shades.items()},
            **(known | facts),
        )
    )
