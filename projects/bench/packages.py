"""The packages a warp is wound from: what is put aside for it, what was wound, or what the shelf could give."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from django.db.models import QuerySet

from projects.models import Project, ProjectShade
from projects.models.shade import LotWish
from projects.stock import ShelfReader
from stash.calc.grist import Grist
from stash.calc.needs import ShadeNeed, WorkedPlan
from stash.calc.packing import ConeStock, Line, propose
from stash.calc.passes import Pass
from stash.calc.serving import Holds
from stash.calc.sharing_out import Share, share_out
from stash.models import Cone, Entry, EntryKind, Reservation
from stash.models.claim import Use

Standing = Literal["reserved", "wound", "proposed"]


@dataclass(frozen=True, slots=True)
class TicketCone:
    """A package as it is found and named at the board; "" for an unknown lot, or no place."""

    pk: int
    code: str
    key: str
    form: str
    lot: str
    place: str
    core_mg: int | None
    on_hand_mg: int
    """Before anything of this warp is wound."""
    ends: int
    """Whole ends that it may give."""

    @property
    def is_skein(self) -> bool:
        """It runs off no skein: it is wound into a ball first."""
        return self.form == "skein"


@dataclass(frozen=True, slots=True)
class Packages:
    standing: Standing
    cones: tuple[TicketCone, ...]
    """Lot by lot, in each the cone with most ends first."""

    @property
    def holds(self) -> list[Holds]:
        return [Holds(cone.pk, cone.key, cone.ends) for cone in self.cones]

    def by_id(self) -> Mapping[int, TicketCone]:
        return {cone.pk: cone for cone in self.cones}


def packages_of(project: Project, worked: WorkedPlan, passes: Sequence[Pass]) -> Packages:
    """One query if any warp is reserved, two if it was wound, four if neither and there is a claim.

    Where nothing is put aside and nothing was wound, the cones that would be reserved now are proposed, and with
    them others of their lots where the `passes` want more of them side by side.
    """
    needs = {asked.key: asked for asked in worked.needs if asked.ends}
    lengths = {key: asked.warp_um for key, asked in needs.items()}
    rows = {row.shade_id: row for row in project.shades.all() if row.key in needs}
    if project.claim_id:
        held = _reserved(project.claim_id, rows, lengths)
        if held:
            return Packages("reserved", _in_order(held))
        wound = _wound(project.claim_id, rows, lengths)
        if wound:
            return Packages("wound", _in_order(wound))
    return Packages("proposed", _in_order(_proposed(project, rows.values(), needs, passes)))


def within_wish(row: ProjectShade, cones: Sequence[ConeStock]) -> Sequence[ConeStock]:
    """Cones that ends may be shared out among: others of their lots too, unless a very cone is wished for."""
    return [cone for cone in cones if cone.id == row.wish_cone_id] if row.wish == LotWish.CONE else cones


def _reserved(
    claim_id: int, rows: Mapping[int, ProjectShade], lengths: Mapping[str, int]
) -> list[TicketCone]:
    lines = Reservation.objects.filter(claim_id=claim_id, use=Use.WARP).order_by("pk")
    found = []
    for line in lines.select_related("cone__lot", "cone__place"):
        row = rows.get(line.cone.shade_id)
        if row is not None:
            # Ends of another length than the plan has now are cut anew out of what is put aside.
            ends = min(line.ends, line.length_um // lengths[row.key])
            found.append(_cone(line.cone, row.key, ends, line.cone.on_hand_mg))
    return found


def _wound(claim_id: int, rows: Mapping[int, ProjectShade], lengths: Mapping[str, int]) -> list[TicketCone]:
    entries = Entry.objects.filter(claim_id=claim_id, kind=EntryKind.WOUND, undone_by=None).order_by("pk")
    found = []
    for entry in entries.select_related("cone__lot", "cone__place"):
        row = rows.get(entry.cone.shade_id)
        if row is not None:
            ends = int(row.grist.length_um_of(-entry.change_mg)) // lengths[row.key]
            found.append(_cone(entry.cone, row.key, ends, entry.after_mg - entry.change_mg))
    return found


def _proposed(
    project: Project,
    rows: Iterable[ProjectShade],
    needs: Mapping[str, ShadeNeed],
    passes: Sequence[Pass],
) -> Sequence[TicketCone]:
    rows = list(rows)
    reader = ShelfReader([row.shade_id for row in rows])
    shares: list[Share] = []
    for row in rows:
        asked, cones = needs[row.key], reader.of_shade(row.shade_id, None)
        cones = within_wish(row, cones)
        found = propose(asked.need, asked.warp_um, asked.pieces, project.keep_back, row.grist, cones)
        shares += shares_of(row.key, asked.warp_um, project.keep_back, row.grist, cones, found.lines)
    keys = {share.cone_id: share.key for share in shares}
    ends = {
        cone_id: (keys[cone_id], number) for cone_id, number in share_out(passes, shares).items() if number
    }
    if not ends:
        return []
    cones: QuerySet[Cone] = Cone.objects.filter(pk__in=ends).select_related("lot", "place").order_by("pk")
    return [_cone(cone, *ends[cone.pk], cone.on_hand_mg) for cone in cones]


def shares_of(
    key: str,
    warp_um: int,
    keep_back: int,
    grist: Grist,
    cones: Iterable[ConeStock],
    lines: Iterable[Line],
) -> list[Share]:
    """The cones of a shade with the warp ends that `lines` take from each, and the most that each could give
    beside the weft that is taken from it."""
    ends: dict[int, int] = {}
    weft_mg: dict[int, int] = {}
    for line in lines:
        if line.use == "warp":
            ends[line.cone_id] = line.ends
        else:
            weft_mg[line.cone_id] = line.mass_mg
    found = []
    for cone in cones:
        left_mg = max(0, cone.free_mg - weft_mg.get(cone.id, 0))
        room = max(0, int(grist.length_um_of(left_mg)) // warp_um - keep_back)
        found.append(Share(cone.id, key, cone.lot, ends.get(cone.id, 0), room))
    return found


def _cone(cone: Cone, key: str, ends: int, on_hand_mg: int) -> TicketCone:
    return TicketCone(
        pk=cone.pk,
        code=cone.code,
        key=key,
        form=cone.form,
        lot=cone.lot.name if cone.lot else "",
        place=cone.place.name if cone.place else "",
        core_mg=cone.core_mg,
        on_hand_mg=on_hand_mg,
        ends=ends,
    )


def _in_order(cones: Sequence[TicketCone]) -> tuple[TicketCone, ...]:
    """The lot with most ends first: it is used up before the next begins."""
    by_lot: dict[tuple[str, str], int] = {}
    for cone in cones:
        lot = _lot_of(cone)
        by_lot[lot] = by_lot.get(lot, 0) + cone.ends
    return tuple(
        sorted(
            cones,
            key=lambda cone: (
                len(cone.key),
                cone.key,
                -by_lot[_lot_of(cone)],
                _lot_of(cone),
                -cone.ends,
                cone.code,
            ),
        )
    )


def _lot_of(cone: TicketCone) -> tuple[str, str]:
    """A lot not known is one of its own."""
    return cone.key, cone.lot or f"? {cone.code}"
