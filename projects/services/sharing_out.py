"""A reserved warp shared out anew among cones of its lots, as it is wound."""

from collections.abc import Collection, Mapping, Sequence

from django.db import transaction

from projects.bench.packages import shares_of, within_wish
from projects.bench.ticket import Choices, cut_warp
from projects.models import Project, ProjectShade
from projects.services.reserving import lock_project
from projects.stock import ShelfReader, held_in
from stash.calc.needs import WorkedPlan, work_out
from stash.calc.packing import Line
from stash.calc.sharing_out import Share, share_out
from stash.models import Reservation, Shortage
from stash.models.claim import Use
from stash.services import reserving as shelf
from stash.services.refusal import Refusal


def share_out_warp(*, pk: int, choices: Choices) -> int:
    """Move reserved warp ends between cones of one lot, so that less has to be wound over; how many ends moved.

    The claim holds as many ends of every lot as before, its weft and its shortages as they were. Raises Refusal,
    NotEnoughFree, or CalcError naming a choice.
    """
    with transaction.atomic(durable=True):
        project = lock_project(pk)
        if project.closed_at or not project.claim_id:
            raise Refusal("No warp is put aside for this project.")
        rows = {row.shade_id: row for row in project.shades.select_related("shade__yarn")}
        locked = shelf.lock_holdings(project.claim_id, set(rows))
        held = list(
            Reservation.objects.filter(claim_id=project.claim_id).select_related("cone").order_by("pk")
        )
        worked = work_out(project.plan)
        shares = _shares(project, rows, held, worked, {cone.pk for cone in locked})
        shared = share_out(cut_warp(worked, choices).passes, shares)
        moved = sum(max(0, shared[share.cone_id] - share.ends) for share in shares)
        if not moved:
            raise Refusal("The warp is shared out already as well as its lots allow.")
        known = {share.cone_id: share for share in shares}
        grists = {row.key: (row.grist, worked.length_of(row.key).warp_um) for row in rows.values()}
        wanted = [
            shelf.Wanted(line.cone_id, line.use, line.ends, line.length_um, line.mass_mg)
            for line in held
            if line.use == Use.WEFT or line.cone_id not in known
        ]
        for cone_id, ends in shared.items():
            if ends:
                grist, warp_um = grists[known[cone_id].key]
                length = ends * warp_um
                wanted.append(
                    shelf.Wanted(
                        cone_id, Use.WARP, ends, length, -(-length * grist.mass_mg // grist.length_um)
                    )
                )
        missing = [
            shelf.Missing(short.shade_id, short.ends, short.length_um, short.mass_mg)
            for short in Shortage.objects.filter(claim_id=project.claim_id).order_by("pk")
        ]
        shelf.give_back(claim_id=project.claim_id)
        shelf.take(claim_id=project.claim_id, wanted=wanted, missing=missing)
        return moved


def ends_to_move(project: Project, worked: WorkedPlan, choices: Choices) -> int:
    """Ends that would move if the warp were shared out anew; two queries."""
    rows = {row.shade_id: row for row in project.shades.all()}
    held = list(Reservation.objects.filter(claim_id=project.claim_id).select_related("cone").order_by("pk"))
    shares = _shares(project, rows, held, worked, None)
    shared = share_out(cut_warp(worked, choices).passes, shares)
    return sum(max(0, shared[share.cone_id] - share.ends) for share in shares)


def _shares(
    project: Project,
    rows: Mapping[int, ProjectShade],
    held: Sequence[Reservation],
    worked: WorkedPlan,
    only: Collection[int] | None,
) -> list[Share]:
    """The cones of the project's shades with what it holds on each. Warp of another length than the plan has now is
    left as it is."""
    claim_id = project.claim_id
    lengths = {asked.key: asked.warp_um for asked in worked.needs if asked.ends}
    amounts = held_in((line.claim_id, line.cone_id, line.mass_mg) for line in held)
    reader = ShelfReader(rows, amounts, only=only)
    shares: list[Share] = []
    for shade_id, row in rows.items():
        if row.key not in lengths:
            continue
        warp_um = lengths[row.key]
        lines = [
            Line(line.cone_id, line.use, line.ends, line.length_um, line.mass_mg)
            for line in held
            if line.cone.shade_id == shade_id
        ]
        if any(line.use == Use.WARP and line.length_um != line.ends * warp_um for line in lines):
            continue
        cones = within_wish(row, reader.of_shade(shade_id, claim_id))
        shares += shares_of(row.key, warp_um, project.keep_back, row.grist, cones, lines)
    return shares
