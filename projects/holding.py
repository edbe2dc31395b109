"""What a project holds now, and whether that still is what its plan needs."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import F

from projects.judging import Judged, ShadeLine, ShadeName
from projects.models import Project
from stash.models import Reservation, Shortage


@dataclass(frozen=True, slots=True)
class HeldCone:
    """What pages and sheets say of a cone that something is held on; "" for an unknown lot, or no place."""

    pk: int
    code: str
    shade: str
    lot: str
    place: str
    undercut_mg: int


@dataclass(frozen=True, slots=True)
class HeldLine:
    """A reservation."""

    cone: HeldCone
    use: str
    ends: int
    length_um: int
    mass_mg: int


@dataclass(frozen=True, slots=True)
class Missed:
    """What the shelf did not have when the yarn was put aside."""

    shade: ShadeName
    ends: int
    length_um: int
    mass_mg: int


@dataclass(frozen=True, slots=True)
class HeldShade:
    shade: ShadeName
    lines: Sequence[HeldLine]

    @property
    def ends(self) -> int:
        return sum(line.ends for line in self.lines)

    @property
    def weft_um(self) -> int:
        return sum(line.length_um for line in self.lines if line.use == "weft")

    @property
    def length_um(self) -> int:
        return sum(line.length_um for line in self.lines)

    @property
    def mass_mg(self) -> int:
        return sum(line.mass_mg for line in self.lines)


@dataclass(frozen=True, slots=True)
class Holding:
    """Two queries for a project with a claim, none for one without."""

    shades: Sequence[HeldShade]
    shortages: Sequence[Missed]

    @property
    def anything(self) -> bool:
        return bool(self.shades or self.shortages)

    @property
    def has_warp(self) -> bool:
        return any(held.ends for held in self.shades)

    @property
    def undercut(self) -> list[HeldCone]:
        """Cones that a weigh-in left with less than is promised; each once, though warp and weft be on it."""
        cones = {line.cone.pk: line.cone for held in self.shades for line in held.lines}
        return [cone for cone in cones.values() if cone.undercut_mg]

    def fits(self, judged: Judged) -> bool:
        """Is what is held, with what was noted as missing, what the plan needs now?

        A plan that was changed afterwards, or a warp of another length, does not fit any more.
        """
        held = {one.shade.pk: one for one in self.shades}
        missing = {short.shade.pk: short for short in self.shortages}
        for line in judged.lines:
            if not line.needs_anything:
                if line.shade.pk in held:
                    return False
                continue
            one, short = held.pop(line.shade.pk, None), missing.get(line.shade.pk)
            ends = (one.ends if one else 0) + (short.ends if short else 0)
            total = (one.length_um if one else 0) + (short.length_um if short else 0)
            cut = sum(part.length_um for part in one.lines if part.use == "warp") if one else 0
            if one and cut != one.ends * line.warp_um:
                return False
            if one and not _as_wished(line, one.lines):
                return False
            if (ends, total) not in (
                (line.need.ends, line.need_um),
                (line.need.ends_buffered, line.buffered_um),
            ):
                return False
        return not held


def _as_wished(line: ShadeLine, held: Sequence[HeldLine]) -> bool:
    """Is what is held of the lots that are wished for?"""
    need = line.need
    if need.wish == "any":
        return True
    ids = {part.cone.pk for part in held}
    if need.wish == "cone":
        return ids <= {need.wish_cone_id}
    lots = {cone.id: (cone.lot, cone.id if cone.lot is None else 0) for cone in line.cones}
    found = {lots.get(cone_id, (None, cone_id)) for cone_id in ids}
    return found <= {(need.wish_lot_id, 0)} if need.wish == "lot" else len(found) <= 1


def holding_of(project: Project) -> Holding:
    if not project.claim_id:
        return Holding((), ())
    return Holding(_held(project.claim_id), _missed(project.claim_id))


def _held(claim_id: int) -> list[HeldShade]:
    """By the names of the shades; of each its warp before its weft, cone by cone."""
    rows = (
        Reservation.objects.filter(claim_id=claim_id)
        .order_by("cone__shade__name", "cone__shade_id", "use", "cone__code")
        .values_list(
            "cone__shade_id",
            "cone__shade__name",
            "cone__shade__colour",
            "cone_id",
            "cone__code",
            "cone__lot__name",
            "cone__place__name",
            F("cone__reserved_mg") - F("cone__on_hand_mg"),
            "use",
            "ends",
            "length_um",
            "mass_mg",
        )
    )
    held: dict[ShadeName, list[HeldLine]] = {}
    for shade_id, name, colour, cone_id, code, lot, place, over_mg, *amounts in rows:
        cone = HeldCone(cone_id, code, name, lot or "", place or "", max(0, over_mg))
        held.setdefault(ShadeName(shade_id, name, colour), []).append(HeldLine(cone, *amounts))
    return [HeldShade(shade, lines) for shade, lines in held.items()]


def _missed(claim_id: int) -> list[Missed]:
    rows = Shortage.objects.filter(claim_id=claim_id).order_by("pk")
    return [
        Missed(ShadeName(shade_id, name, colour), *amounts)
        for shade_id, name, colour, *amounts in rows.values_list(
            "shade_id", "shade__name", "shade__colour", "ends", "length_um", "mass_mg"
        )
    ]
