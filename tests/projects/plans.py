"""Plans of two shades for the tests of the services: invented, round figures."""

from fractions import Fraction
from typing import Any

from projects.models import Project, ProjectShade
from projects.services.planning import ProjectFacts, save_project
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.plan import Plan
from stash.models import Shade

INCH = 25_400


def a_plan(ends: str = "1 A, 1 B", picks: str = "1 A, 1 B", **changes: Any) -> Plan:
    """Four mats of 14 x 20 in, A and B alternating, 12 epi, 10 ppi, no losses, half a yard of waste."""
    facts: dict[str, Any] = {
        "pieces": 4,
        "across_um": 14 * INCH,
        "along_um": 20 * INCH,
        "losses_across": (Fraction(0),),
        "losses_along": (Fraction(0),),
        "take_up": Fraction(0),
        "waste_um": 18 * INCH,
        "sett": Density(Fraction(12)),
        "picks": Density(Fraction(10)),
        "order": read_order(ends),
        "order_fills": True,
        "pick_order": read_order(picks, word="picks"),
    }
    return Plan(**facts | changes)


def facts(*shades: Shade, name: str = "Lantern mats", plan: Plan | None = None, **more: Any) -> ProjectFacts:
    """The first shade under A, the second under B; a plan of A alone where there is but one."""
    plan = plan or (a_plan() if len(shades) > 1 else a_plan("1 A", "1 A"))
    keyed = {key: shade.pk for key, shade in zip("ABCDE", shades, strict=False)}
    return ProjectFacts(**{"name": name, "plan": plan, "structure": "plain", "shades": keyed} | more)


def plan_for(*shades: Shade, **more: Any) -> Project:
    return save_project(facts=facts(*shades, **more))


def mass_needed(row: ProjectShade, *, buffered: bool = False) -> int:
    """Least whole mg of one cone that serve this shade's need."""
    project = row.project
    ends = row.ends_buffered if buffered else row.ends
    length = ends * project.warp_um + row.need().weft_um(project.pieces, buffered=buffered)
    return -(-length * row.grist.mass_mg // row.grist.length_um)
