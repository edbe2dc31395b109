"""What a project holds now, and whether that still is what its plan needs."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from projects.judging import Judged
from projects.models import Project
from stash.models import Cone, Reservation, Shade, Shortage


@dataclass(frozen=True, slots=True)
class HeldShade:
    shade: Shade
    lines: Sequence[Reservation]

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
    shortages: Sequence[Shortage]

    @property
    def anything(self) -> bool:
        return bool(self.shades or self.shortages)

    @property
    def has_warp(self) -> bool:
        return any(held.ends for held in self.shades)

    @property
    def undercut(self) -> list[Cone]:
        """Cones that a weigh-in left with less than is promised; each once, though warp and weft be on it."""
        cones = {line.cone_id: line.cone for held in self.shades for line in held.lines}
        return [cone for cone in cones.values() if cone.undercut_mg]

    def fits(self, judged: Judged) -> bool:
        """Is what is held, with what was noted as missing, what the plan needs now?

        A plan that was changed afterwards, or a warp of another length, does not fit any more.
        """
        held = {one.shade.pk: one for one in self.shades}
        missing = {short.shade_id: short for short in self.shortages}
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
            if (ends, total) not in (
                (line.need.ends, line.need_um),
                (line.need.ends_buffered, line.buffered_um),
            ):
                return False
        return not held


_SAID = (
    "claim_id",
    "use",
    "ends",
    "length_um",
    "mass_mg",
    "cone__code",
    "cone__on_hand_mg",
    "cone__reserved_mg",
    "cone__shade__name",
    "cone__shade__colour",
    "cone__lot__name",
    "cone__place__name",
)
"""Of five tables, what a page or a sheet says."""


def holding_of(project: Project) -> Holding:
    if not project.claim_id:
        return Holding((), ())
    grouped: dict[int, list[Reservation]] = defaultdict(list)
    shades: dict[int, Shade] = {}
    rows = (
        Reservation.objects.filter(claim_id=project.claim_id)
        .select_related("cone__shade", "cone__lot", "cone__place")
        .only(*_SAID)
        .order_by("use", "cone__code")
    )
    for line in rows:
        grouped[line.cone.shade_id].append(line)
        shades[line.cone.shade_id] = line.cone.shade
    shortages = Shortage.objects.filter(claim_id=project.claim_id).select_related("shade")
    ordered = sorted(shades, key=lambda pk: shades[pk].name)
    return Holding([HeldShade(shades[pk], grouped[pk]) for pk in ordered], list(shortages))
