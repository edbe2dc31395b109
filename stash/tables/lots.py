"""The cones of one shade, lot by lot, each with those for whom it is reserved."""

from collections.abc import Iterable
from dataclasses import dataclass, field

from stash.models import Cone, Lot, Reservation


@dataclass(slots=True)
class ConeLine:
    cone: Cone
    held: list[Reservation] = field(default_factory=list)


@dataclass(slots=True)
class LotOfCones:
    """One lot, or one cone of unknown lot, which matches no other. Sums are in mg."""

    lot: Lot | None
    cones: list[ConeLine] = field(default_factory=list)

    @property
    def on_hand_mg(self) -> int:
        return sum(line.cone.on_hand_mg for line in self.cones)

    @property
    def free_mg(self) -> int:
        return sum(line.cone.free_mg for line in self.cones)


def by_lot(cones: Iterable[Cone], held: Iterable[Reservation]) -> list[LotOfCones]:
    """Known lots by name, then the cones of unknown lot one by one; within a lot by code."""
    on_cone: dict[int, list[Reservation]] = {}
    for reservation in held:
        on_cone.setdefault(reservation.cone_id, []).append(reservation)
    known: dict[int, LotOfCones] = {}
    unknown = []
    for cone in sorted(cones, key=lambda cone: cone.search):
        line = ConeLine(cone, on_cone.get(cone.pk, []))
        if cone.lot is None:
            unknown.append(LotOfCones(None, [line]))
        else:
            known.setdefault(cone.lot_id, LotOfCones(cone.lot)).cones.append(line)
    return sorted(known.values(), key=lambda group: group.lot.name) + unknown
