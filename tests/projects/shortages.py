"""A shelf that is short, small enough to be reckoned in the head; all invented.

The yarn runs a yard a gram (`yard_yarn`). Five mats of `mats_plan` take 10 ends of 5 yd of A as warp, 50 yd, and 36
picks a mat of 10 in of B as weft, 50 yd in all. Ten ends are an accent, so its buffer is one end more.
"""

from typing import Any

from projects.models import Project
from stash.calc.colour_order import read_order
from stash.calc.grist import Grist
from stash.calc.plan import Plan
from stash.models import Yarn
from tests.factories import make_yarn
from tests.projects.factories import YARD, make_project, plain_plan


def yard_yarn(name: str = "Yard cotton", um: int = YARD, **facts: Any) -> Yarn:
    """A yarn of `um` to the gram, a yard unless told otherwise."""
    return make_yarn(name, count="", stated=Grist(um, 1_000), **facts)


def mats_plan(**changes: Any) -> Plan:
    facts: dict[str, Any] = {"pieces": 5, "pick_order": read_order("1 B", word="picks")}
    return plain_plan(**facts | changes)


def mats(shades: dict, name: str = "Plain mats", **facts: Any) -> Project:
    """Five mats: 50 yd of A, 50 yd of B."""
    return make_project(shades, name=name, plan=facts.pop("plan", None) or mats_plan(), **facts)
