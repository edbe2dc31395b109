"""Lot wishes: of which lots a project takes a shade."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol, TypeVar

from stash.calc.errors import CalcError

Wish = Literal["any", "same", "lot", "cone"]
"""any: one lot rather than several, as packing has it; same: one lot for warp and weft together, or it is short; lot
and cone: of these alone."""


@dataclass(frozen=True, slots=True)
class ShadeWish:
    """What is wished of the shade under a key: `lot_id` of a wish for a lot, `cone_id` of a wish for a cone."""

    key: str
    wish: Wish
    lot_id: int | None = None
    cone_id: int | None = None

    def __post_init__(self) -> None:
        check_wish(self.wish, self.lot_id, self.cone_id)


def check_wish(wish: Wish, lot_id: int | None, cone_id: int | None) -> None:
    """Raises CalcError unless a lot or a cone is named just where it is wished for."""
    if (lot_id is not None) != (wish == "lot") or (cone_id is not None) != (wish == "cone"):
        raise CalcError(
            "Say which lot or which cone is wished for, or wish for none in particular.", field="wish"
        )


class OfALot(Protocol):
    """A cone with its key and that of its lot, None where the lot is not known."""

    @property
    def id(self) -> int: ...
    @property
    def lot(self) -> int | None: ...


Cone = TypeVar("Cone", bound=OfALot)


def wished(
    wish: Wish, lot_id: int | None, cone_id: int | None, cones: Sequence[Cone]
) -> list[Sequence[Cone]]:
    """The cones that may serve together, as groups to choose one of; for every wish but `same` there is one.

    A cone of unknown lot is a lot of its own. There is always a group, if only an empty one. The groups of lots stand
    in the order of their first cones, however the cones are given.
    """
    if wish == "any":
        return [cones]
    if wish == "lot":
        return [[cone for cone in cones if cone.lot == lot_id]]
    if wish == "cone":
        return [[cone for cone in cones if cone.id == cone_id]]
    lots: dict[tuple[bool, int], list[Cone]] = {}
    for cone in sorted(cones, key=lambda cone: cone.id):
        at = (False, cone.id) if cone.lot is None else (True, cone.lot)
        lots.setdefault(at, []).append(cone)
    return list(lots.values()) or [[]]
