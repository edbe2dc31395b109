"""Moving a reservation: what a later project holds of a shade goes to one that is short of it, in one step.

The later one gives only what the plan itself lacks, nothing for its buffer, and keeps or finds anew what it can; what
it then lacks is noted as its shortage.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from projects.around import comes_after
from projects.models import Project, ProjectShade
from projects.services.reserving import claim_of, freeze, missing_of, refuse_unfit, wanted_of
from projects.stock import ShelfReader
from stash.calc.most import Stock
from stash.calc.ways.moving import Demand, Share, share_of
from stash.models import Reservation
from stash.services import reserving as shelf
from stash.services.refusal import Refusal
from stash.services.using import is_begun


@dataclass(frozen=True, slots=True)
class Moved:
    """What changed hands, in um by the names of shades, and what the later project now lacks of them."""

    given_um: dict[str, int]
    lacking_um: dict[str, int]
    other: Project


def move_reservation(*, pk: int, from_claim: int, version: int | None = None) -> Moved:
    """Reserve for the project with what the later claim holds of the shades it is short of, then reserve for the
    later one what is left. All or nothing; locked in the order of `stash.services.reserving`. Raises Refusal.
    """
    with transaction.atomic(durable=True):
        project, other = _lock_both(pk, from_claim)
        refuse_unfit(project, version)
        if not comes_after(other, project):
            raise Refusal(f"{other.name} goes before this project: its yarn does not move.")
        claim_id = claim_of(project)
        for one in (project, other):
            if is_begun(claim_id=one.claim_id):
                raise Refusal(f"Yarn was taken for {one.name} already: its reservation is in use.")
        rows = list(project.shades.select_related("shade__yarn"))
        locked = shelf.lock_holdings(claim_id, {row.shade_id for row in rows}, also=[from_claim])
        live = {cone.pk for cone in locked}
        shelf.give_back(claim_id=claim_id)
        shares = _shares(project, rows, from_claim, live)
        giving = {row.shade_id: row for row in rows if shares[row.key].given}
        if not giving:
            raise Refusal(
                f"Nothing that {other.name} holds is needed any more. The shelf is as the page shows it now."
            )
        shelf.give_back(claim_id=from_claim, shade_ids=giving)
        packed = [(row, shares[row.key].packing) for row in rows]
        shelf.take(claim_id=claim_id, wanted=wanted_of(packed), missing=missing_of(packed))
        freeze(rows)
        lacking = _reserve_again(other, from_claim, giving, live)
    given = {
        row.shade.name: int(row.grist.length_um_of(sum(shares[row.key].given.values())))
        for row in giving.values()
    }
    return Moved(given, lacking, other)


def _lock_both(pk: int, from_claim: int) -> tuple[Project, Project]:
    """The two projects, locked by primary key."""
    found = {
        project.pk: project
        for project in Project.objects.select_for_update(of=("self",), no_key=True)
        .filter(pk__in=_keys_of(pk, from_claim))
        .order_by("pk")
    }
    project = found.pop(pk, None)
    other = next((one for one in found.values() if one.claim_id == from_claim), None)
    if project is None:
        raise Refusal("There is no such project any more.")
    if other is None or other.closed_at:
        raise Refusal("That project holds no yarn any more.")
    return project, other


def _keys_of(pk: int, from_claim: int) -> list[int]:
    return [pk, *Project.objects.filter(claim__pk=from_claim).exclude(pk=pk).values_list("pk", flat=True)]


def _demand(project: Project, row: ProjectShade) -> Demand:
    return Demand(
        row.need(), row.warp_um or project.warp_um, project.pieces_in_all, project.keep_back, row.grist
    )


def _shares(
    project: Project, rows: Sequence[ProjectShade], from_claim: int, live: set[int]
) -> dict[str, Share]:
    held: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    lines = Reservation.objects.filter(claim=from_claim, cone__in=live).order_by("pk")
    for shade_id, cone_id, mass_mg in lines.values_list("cone__shade_id", "cone_id", "mass_mg"):
        held[shade_id][cone_id] += mass_mg
    reader = ShelfReader([row.shade_id for row in rows], only=live)
    return {
        row.key: share_of(
            _demand(project, row),
            Stock(row.grist, reader.of_shade(row.shade_id, None)),
            held.get(row.shade_id, {}),
        )
        for row in rows
    }


def _reserve_again(
    other: Project, from_claim: int, giving: dict[int, ProjectShade], live: set[int]
) -> dict[str, int]:
    """What is left of these shades for the one that gave; returns what it lacks, in um by the names of shades."""
    rows = list(other.shades.filter(shade__in=giving).select_related("shade__yarn"))
    reader = ShelfReader([row.shade_id for row in rows], only=live)
    packed = [
        (row, _demand(other, row).proposed(reader.of_shade(row.shade_id, None)).packing) for row in rows
    ]
    missing = missing_of(packed)
    shelf.take(claim_id=from_claim, wanted=wanted_of(packed), missing=missing)
    names = {row.shade_id: row.shade.name for row in rows}
    return {names[line.shade_id]: line.length_um for line in missing}
