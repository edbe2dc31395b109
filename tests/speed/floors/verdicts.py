"""Verdicts of many projects from rows fetched by hand: three queries, then calc."""

from __future__ import annotations

from collections import defaultdict
from types import SimpleNamespace
from typing import Any

from projects.judging import Judged, ShadeLine
from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need
from stash.calc.verdict import judge
from tests.speed.floors.shell import fetch, marks

SHADES = """
SELECT r.project_id, r.key, r.ends, r.ends_buffered, r.weft_piece_um, r.weft_piece_buffered_um, r.weft_sample_um,
  r.weft_sample_buffered_um, r.picks, COALESCE(r.frozen_um, y.grist_um), COALESCE(r.frozen_mg, y.grist_mg),
  s.id, s.name, s.colour, y.name
FROM projects_projectshade r JOIN stash_shade s ON s.id = r.shade_id JOIN stash_yarn y ON y.id = s.yarn_id
WHERE r.project_id IN ({projects}) ORDER BY r.key
"""
CONES = """
SELECT c.id, c.shade_id, c.lot_id, c.on_hand_mg, c.reserved_mg, l.name FROM stash_cone c
LEFT JOIN stash_lot l ON l.id = c.lot_id WHERE c.retired_at IS NULL AND c.shade_id IN ({shades}) ORDER BY c.id
"""
OWN = "SELECT claim_id, cone_id, mass_mg FROM stash_reservation WHERE claim_id IN ({claims})"

Cones = dict[int, list[tuple[int, int | None, int, int, str | None]]]


def shade_rows(ids: list[int]) -> dict[int, list[tuple[Any, ...]]]:
    found = defaultdict(list)
    for row in fetch(SHADES.format(projects=marks(ids)), ids):
        found[row[0]].append(row)
    return found


def cones_of(ids: list[int]) -> Cones:
    found = defaultdict(list)
    for pk, shade, lot, on_hand, reserved, name in fetch(CONES.format(shades=marks(ids)), ids):
        found[shade].append((pk, lot, on_hand, reserved, name))
    return found


def held_by(claims: list[int]) -> dict[int, dict[int, int]]:
    found: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for claim, cone, mass in fetch(OWN.format(claims=marks(claims)), claims):
        found[claim][cone] += mass
    return found


def free_for(cones: Cones, shade: int, own: dict[int, int]) -> list[ConeStock]:
    return [
        ConeStock(pk, lot, max(0, on_hand - reserved + own.get(pk, 0)))
        for pk, lot, on_hand, reserved, _ in cones.get(shade, ())
    ]


def judge_all(projects: list[SimpleNamespace]) -> list[Judged]:
    """`projects` have id, claim_id, warp_um, pieces and keep_back."""
    rows = shade_rows([project.id for project in projects])
    cones = cones_of(list({row[11] for lines in rows.values() for row in lines}))
    held = held_by([project.claim_id for project in projects if project.claim_id])
    judged = []
    for project in projects:
        own = held.get(project.claim_id, {})
        lines = []
        for _, key, *needs, picks, um, mg, shade, name, colour, yarn in rows.get(project.id, ()):
            need, grist, free = Need(key, *needs), Grist(um, mg), free_for(cones, shade, own)
            found = judge(need, project.warp_um, project.pieces, project.keep_back, grist, free)
            named = SimpleNamespace(pk=shade, name=name, colour=colour, yarn=yarn)
            lines.append(
                ShadeLine(key, named, grist, need, free, found, project.warp_um, project.pieces, picks)
            )
        judged.append(Judged(tuple(lines), project.warp_um, project.pieces))
    return judged
