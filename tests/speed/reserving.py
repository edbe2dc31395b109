"""Reserving for a project against the same locked steps in hand-written SQL.

Both give back what the project holds, decide from the locked cones by the same call of calc, take each amount by one
conditional UPDATE, and commit. The project is reserved for again and again, so both always do the same.
"""

from __future__ import annotations

from django.contrib import messages
from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from stash.access import HELPERS_ONLY
from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need, propose
from tests.speed.floors.shell import fetch, fetch_named, marks
from tests.speed.floors.verdicts import shade_rows

RESERVE = """
INSERT INTO stash_reservation (claim_id, cone_id, "use", ends, length_um, mass_mg, made_at)
VALUES (%s, %s, %s, %s, %s, %s, %s)
"""
MISS = """
INSERT INTO stash_shortage (claim_id, shade_id, ends, length_um, mass_mg, made_at) VALUES (%s, %s, %s, %s, %s, %s)
"""
TAKE = """
UPDATE stash_cone SET reserved_mg = reserved_mg + %s
WHERE id = %s AND retired_at IS NULL AND on_hand_mg >= reserved_mg + %s
"""
GIVE_BACK = """
UPDATE stash_cone SET reserved_mg = reserved_mg - (
  SELECT SUM(r.mass_mg) FROM stash_reservation r WHERE r.cone_id = stash_cone.id AND r.claim_id = %s
) WHERE id IN (SELECT cone_id FROM stash_reservation WHERE claim_id = %s)
"""


@HELPERS_ONLY
def reserve(request: HttpRequest, pk: int) -> HttpResponse:
    """What the button does."""
    reserve_by_hand(pk)
    messages.success(request, "Yarn is put aside.")
    return redirect("project-page", pk)


def reserve_by_hand(pk: int) -> None:
    """For a project that has a claim already."""
    lock = " FOR NO KEY UPDATE" if connection.vendor == "postgresql" else ""
    with transaction.atomic(durable=True), connection.cursor() as cursor:
        (project,) = fetch_named(f"SELECT * FROM projects_project WHERE id = %s{lock}", [pk])
        claim = project.claim_id
        fetch(f"SELECT id FROM stash_claim WHERE id = %s{lock}", [claim])
        rows = shade_rows([pk])[pk]
        shades = [row[11] for row in rows]
        cones = fetch(
            "SELECT id, shade_id, lot_id, on_hand_mg, retired_at FROM stash_cone WHERE (retired_at IS NULL AND shade_id "
            f"IN ({marks(shades)})) OR id IN (SELECT cone_id FROM stash_reservation WHERE claim_id = %s) ORDER BY id{lock}",
            [*shades, claim],
        )
        cursor.execute(GIVE_BACK, [claim, claim])
        cursor.execute("DELETE FROM stash_reservation WHERE claim_id = %s", [claim])
        cursor.execute("DELETE FROM stash_shortage WHERE claim_id = %s", [claim])
        ids = [cone[0] for cone in cones]
        reserved = dict(fetch(f"SELECT id, reserved_mg FROM stash_cone WHERE id IN ({marks(ids)})", ids))
        now, lines, missing = timezone.now(), [], []
        for row in rows:
            need, grist = Need(row[1], *row[2:8]), Grist(row[9], row[10])
            free = [
                ConeStock(cone, lot, max(0, on_hand - reserved[cone]))
                for cone, shade, lot, on_hand, retired in cones
                if shade == row[11] and retired is None
            ]
            found = propose(need, project.warp_um, project.pieces, project.keep_back, grist, free)
            lines += found.lines
            short = found.short_ends * project.warp_um + found.short_weft_um
            if short:
                mass = -(-grist.mass_mg_of(short) // 1)
                missing.append((claim, row[11], found.short_ends, short, int(mass), now))
        for line in lines:
            cursor.execute(TAKE, [line.mass_mg, line.cone_id, line.mass_mg])
            assert cursor.rowcount == 1, "free changed while its cone was locked"
        cursor.executemany(
            RESERVE,
            [(claim, one.cone_id, one.use, one.ends, one.length_um, one.mass_mg, now) for one in lines],
        )
        cursor.executemany(MISS, missing)
