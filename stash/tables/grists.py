"""Up to three lengths per weight of a yarn: which is used, and why."""

from dataclasses import dataclass

from stash.calc.grist import Grist
from stash.models import GristSource, Yarn


@dataclass(frozen=True, slots=True)
class GristLine:
    label: str
    grist: Grist | None
    used: bool
    why: str


def grists_of(yarn: Yarn) -> list[GristLine]:
    """In the order of trust."""
    known = {
        GristSource.MEASURED: _pair(yarn.measured_um, yarn.measured_mg),
        GristSource.STATED: _pair(yarn.stated_um, yarn.stated_mg),
        GristSource.COMPUTED: yarn.count.grist if yarn.count else None,
    }
    why = "chosen by hand" if yarn.grist_choice else "the most trusted of those known"
    return [
        GristLine(source.label, grist, source == yarn.grist_source, why) for source, grist in known.items()
    ]


def _pair(length_um: int | None, mass_mg: int | None) -> Grist | None:
    return Grist(length_um, mass_mg) if length_um and mass_mg else None
