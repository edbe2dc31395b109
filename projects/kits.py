"""Kits of a class: what goes into each, and what they come to together against the shelf."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from projects.models import Project
from projects.outputs import NeedRow, Outputs
from stash.calc.grist import Grist
from stash.calc.needs import ShadeNeed, WorkedPlan


@dataclass(frozen=True, slots=True)
class KitShade:
    """One shade in one kit. The warp is cut to its ends, without spare ones; weft comes with its buffer."""

    row: NeedRow
    ends: int
    warp_um: int
    """Length of one end."""
    weft_um: int
    grist: Grist

    @property
    def warp_total_um(self) -> int:
        return self.ends * self.warp_um

    @property
    def warp_mg(self) -> Fraction:
        return self.grist.mass_mg_of(self.warp_total_um)

    @property
    def weft_mg(self) -> Fraction:
        return self.grist.mass_mg_of(self.weft_um)


@dataclass(frozen=True, slots=True)
class Kit:
    """A line of the list to hand out by."""

    number: int
    whose: str
    """student, demonstration or spare."""


@dataclass(frozen=True, slots=True)
class KitSheet:
    kits: Sequence[Kit]
    shades: Sequence[KitShade]
    ends: int
    mass_mg: Fraction
    """Of all yarn in one kit."""


def kit_sheet(project: Project, worked: WorkedPlan, found: Outputs) -> KitSheet:
    """From the plan worked out and its outputs, which both are of all kits together."""
    needs = {need.key: need for need in worked.needs}
    shades = [_shade(row, needs[row.line.key], worked) for row in found.rows if row.line.key in needs]
    return KitSheet(
        kits=kits_of(project),
        shades=shades,
        ends=worked.warp_order.length,
        mass_mg=sum((one.warp_mg + one.weft_mg for one in shades), Fraction(0)),
    )


def kits_of(project: Project) -> list[Kit]:
    """Students first, then the one to show with, then those to spare."""
    sorts = [
        *["student"] * project.kit_students,
        *["demonstration"] * project.kit_demo,
        *["spare"] * project.kit_spare,
    ]
    return [Kit(number, whose) for number, whose in enumerate(sorts, 1)]


def _shade(row: NeedRow, need: ShadeNeed, worked: WorkedPlan) -> KitShade:
    """Samples are reckoned for every warp alike, so all that is needed divides by the warps without a rest."""
    return KitShade(
        row=row,
        ends=worked.ends_by_key.get(need.key, 0),
        warp_um=need.warp_um,
        weft_um=need.weft_buffered_um // worked.plan.warps,
        grist=row.line.grist,
    )
