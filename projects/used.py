"""What a project really took of each shade, against its plan."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Q, Sum

from projects.models import Project, ProjectShade
from stash.models import Cone, Entry, Reservation


@dataclass(frozen=True, slots=True)
class UsedShade:
    """`used_mg` is what the ledger adds up to for the project, `plan_um` the bare need of warp and weft."""

    row: ProjectShade
    used_mg: int
    plan_um: int

    @property
    def used_um(self) -> Fraction:
        return self.row.grist.length_um_of(self.used_mg)

    @property
    def plan_mg(self) -> Fraction:
        return self.row.grist.mass_mg_of(self.plan_um)

    @property
    def more_mg(self) -> Fraction:
        return self.used_mg - self.plan_mg


def used_of(project: Project) -> Sequence[UsedShade]:
    """Shades of which anything was wound or weighed back; one query, none for a project without a claim.

    A cone of a shade that the plan does not know any more is left out: its ledger still says who had it.
    """
    if not project.claim_id:
        return ()
    sums = Entry.objects.filter(claim_id=project.claim_id).order_by().values("cone__shade")
    used = {line["cone__shade"]: -line["sum"] for line in sums.annotate(sum=Sum("change_mg"))}
    return [
        UsedShade(
            row,
            used[row.shade_id],
            row.ends * row.warp_um + row.need().weft_um(project.pieces_in_all),
        )
        for row in project.shades.all()
        if used.get(row.shade_id)
    ]


def cones_to_weigh_back(project: Project) -> list[Cone]:
    """Cones on the shelf of which the project holds yarn or took some, with what a line says of them."""
    if not project.claim_id:
        return []
    held = Reservation.objects.filter(claim_id=project.claim_id).values("cone")
    took = Entry.objects.filter(claim_id=project.claim_id).values("cone")
    cones = Cone.objects.live().filter(Q(pk__in=held) | Q(pk__in=took))
    return list(cones.with_names().order_by("shade__name", "code"))
