"""The written form of a project file against the one that the code reads and writes."""

import re
from pathlib import Path

import pytest

from projects.sharing import form
from projects.sharing.form import BEAM, FIBRE, GROUPS, HEAD, MOST_BYTES, SCHEMA, SHADE, TOP, YARN
from stash.calc.fringe import Fringe
from stash.calc.hems import Hem
from stash.calc.plan import Plan
from stash.calc.selvedges import Selvedges

TEXT = (Path(__file__).parents[3] / SCHEMA).read_text(encoding="utf-8")
ROW = re.compile(r"^\| (\w+) \| (.+?) \| .*\|$")


def tables() -> list[dict[str, str]]:
    """Each table of the page: what every name holds."""
    found: list[dict[str, str]] = []
    for line in TEXT.splitlines():
        if line.startswith("| name | holds"):
            found.append({})
        elif (row := ROW.match(line)) and not line.startswith("| ---"):
            found[-1][row.group(1)] = row.group(2)
        elif row is None and line.startswith("|") and not line.startswith("| ---"):
            pytest.fail(f"a row that cannot be read: {line}")
    return found


def written(value: form.Value) -> str:
    if value.kind in ("text", "lines"):
        return f"{value.kind} ({value.most})"
    if value.kind == "word":
        return f"word: {', '.join(value.words)}"
    if value.kind == "whole" and value.most < form.MOST_WHOLE:
        return f"whole, {value.least} to {value.most}"
    return value.kind


TOP_TABLE, DRAFT, PLAN, KITS, LOOM, BEAMS, SHADES, YARNS, FIBRES = range(9)


def test_the_top_names_what_is_read_there():
    assert tuple(tables()[TOP_TABLE]) == TOP
    assert {
        name: holds for name, holds in tables()[TOP_TABLE].items() if name in {one.name for one in HEAD}
    } == {value.name: written(value) for value in HEAD}
    assert tables()[TOP_TABLE]["format"] == f"`{form.FORMAT}`"
    assert tables()[TOP_TABLE]["version"] == str(form.VERSION)


@pytest.mark.parametrize(
    ("at", "values", "also"),
    [
        (DRAFT, GROUPS["draft"], {}),
        (PLAN, GROUPS["plan"], {}),
        (KITS, GROUPS["kits"], {}),
        (LOOM, GROUPS["loom"], {}),
        (BEAMS, BEAM, {"keys": "list of keys"}),
        (SHADES, SHADE, {"yarn": "object"}),
        (YARNS, YARN, {"fibres": "list"}),
        (FIBRES, FIBRE, {}),
    ],
)
def test_each_table_names_what_is_read_there(at, values, also):
    assert tables()[at] == {value.name: written(value) for value in values} | also


def test_limits_are_those_of_the_code():
    assert f"at most {MOST_BYTES // 1000} kB" in TEXT
    assert f"at most {form.MOST_SHADES}" in TEXT


def test_nothing_of_a_plan_is_left_out_of_its_file():
    """Whoever adds to a plan adds it to the file, with a new version."""
    apart = {"hem": Hem, "fringe": Fringe, "selvedges": Selvedges}
    # Kits and beams stand apart. The reed of a sley is the studio's own: `loom` keeps the sley, without the reed.
    # Wishes name lots and cones, which are of one studio: another has none of them.
    elsewhere = {"warps", "beams", "sleyed", "wishes"}
    wanted = {name for name in Plan.__slots__ if name not in {*apart, *elsewhere}}
    wanted |= {f"{name}.{part}" for name, kind in apart.items() for part in kind.__slots__}
    assert {value.where for value in GROUPS["plan"]} == wanted
