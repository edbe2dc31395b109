"""Writing a project file: the same project gives the same bytes."""

import json
import re
from collections.abc import Iterable
from fractions import Fraction
from operator import attrgetter
from typing import Any

from projects.models import Project, ProjectShade
from projects.sharing.form import BEAM, DRAFT, FORMAT, HEAD, KITS, LOOM, PLAN, VERSION, Kind, Value
from stash.calc.accents import write_accents
from stash.calc.colour_order import Order
from stash.models import Shade

# Two whole numbers on lines of their own; a text in JSON has no line breaks, so that none is meant.
_SPREAD_PAIR = re.compile(r"\[\s*\n\s*(\d+),\n\s*(\d+)\n\s*\]")


def project_file(project: Project) -> str:
    """The whole plan and its shades as JSON. Its shades come with their yarns' present figures.

    A few queries, whatever the plan. Nothing of stock, of people or of what became of the project is in it.
    """
    rows = (
        project.shades.select_related("shade__yarn").prefetch_related("shade__yarn__fibres").order_by("key")
    )
    plan = project.plan
    written = {
        "format": FORMAT,
        "version": VERSION,
        **_group(HEAD, project),
        "draft": _group(DRAFT, project),
        "plan": _group(PLAN, plan),
        "kits": {value.name: getattr(project, f"kit_{value.name}") for value in KITS},
        "loom": _group(LOOM, project),
        "beams": [_group(BEAM, beam) | {"keys": list(beam.keys)} for beam in plan.beams],
        "shades": [_shade(row) for row in rows],
    }
    return _SPREAD_PAIR.sub(r"[\1, \2]", json.dumps(written, ensure_ascii=False, indent=1)) + "\n"


def _group(values: Iterable[Value], thing: Any) -> dict[str, Any]:
    return {value.name: _written(value.kind, attrgetter(value.where)(thing)) for value in values}


def _written(kind: Kind, value: Any) -> Any:
    """Numbers exactly: a fraction as a pair, orders and accents as their lines."""
    if kind == "share":
        return _pair(value)
    if kind == "shares":
        return [_pair(one) for one in value]
    if kind in ("density", "density or null"):
        return None if value is None else {"count": _pair(value.count), "per_um": value.per_um}
    if kind in ("whole", "flag"):
        return value
    if isinstance(value, Order):
        return value.text
    if isinstance(value, tuple):
        return write_accents(value)
    return "" if value is None else str(value)


def _pair(value: Fraction) -> list[int]:
    return [value.numerator, value.denominator]


def _shade(row: ProjectShade) -> dict[str, Any]:
    return {"key": row.key, **described(row.shade)}


def described(shade: Shade) -> dict[str, Any]:
    """What another studio knows a shade by."""
    yarn = shade.yarn
    return {
        "name": shade.name,
        "colour": shade.colour,
        "yarn": {
            "name": yarn.name,
            "count": yarn.count.written if yarn.count else "",
            "grist": [yarn.grist.length_um, yarn.grist.mass_mg],
            "fibres": [{"name": one.fibre, "percent": one.percent} for one in yarn.fibres.all()],
        },
    }
