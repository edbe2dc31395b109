"""What is taken of a shade's cones, and what that leaves: exact, in whole mg."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from stash.calc.allot.asked import Asked, Key, Package
from stash.calc.packing import ConeStock, Line

Lines = Mapping[Key, Sequence[Line]]


def mass_up(asked: Asked, length_um: int) -> int:
    """The least whole mg that hold so much of the yarn."""
    return -(-length_um * asked.grist.mass_mg // asked.grist.length_um)


def by_cone(lines: Iterable[Line]) -> dict[int, int]:
    """mg by cone, warp and weft together."""
    taken: dict[int, int] = {}
    for line in lines:
        taken[line.cone_id] = taken.get(line.cone_id, 0) + line.mass_mg
    return taken


def knots(asked: Asked, lines: Iterable[Line]) -> dict[int, int]:
    """mg by cone that must be there beyond the lines: what is kept back of the cones that give warp.

    The project's own weft may be wound from that in the end, so only what its weft leaves of it counts.
    """
    lines = list(lines)
    taken = by_cone(lines)
    return {
        line.cone_id: max(
            0, mass_up(asked, (line.ends + asked.keep_back) * asked.warp_um) - taken[line.cone_id]
        )
        for line in lines
        if line.use == "warp" and asked.keep_back
    }


@dataclass(frozen=True, slots=True)
class Overdrawn:
    id: int
    excess_mg: int


class Taken:
    """The cones of one shade while they are given out, one after the other.

    What one project keeps back for knots is not given to another; but of several, the most that one keeps back
    will do for all, since it is there to be used by whoever meets a knot.
    """

    def __init__(self, packages: Iterable[Package]) -> None:
        self.packages = sorted(packages, key=lambda package: package.id)
        self.lines: dict[Key, tuple[Line, ...]] = {}
        self._taken: dict[Key, dict[int, int]] = {}
        self._knots: dict[Key, dict[int, int]] = {}

    def give(self, asked: Asked, lines: Sequence[Line], *, kept: bool = False) -> None:
        """In place of what it has been given before. `kept` is what one keeps who is not served: no knots for him."""
        self.lines[asked.key] = tuple(lines)
        self._taken[asked.key] = by_cone(lines)
        self._knots[asked.key] = {} if kept else knots(asked, lines)

    def copy(self) -> Taken:
        other = Taken(self.packages)
        other.lines, other._taken, other._knots = dict(self.lines), dict(self._taken), dict(self._knots)
        return other

    def left(self, without: Key | None = None) -> list[ConeStock]:
        """What is left of each cone, as if `without` had been given nothing."""
        asked_for = self._asked_for(without)
        return [package.less(asked_for.get(package.id, 0)) for package in self.packages]

    def overdrawn(self) -> list[Overdrawn]:
        """The cones that are asked for more than they hold."""
        asked_for = self._asked_for()
        return [
            Overdrawn(package.id, asked_for[package.id] - package.free_mg)
            for package in self.packages
            if asked_for.get(package.id, 0) > package.free_mg
        ]

    def room_mg(self, cone_id: int) -> int:
        """What nobody asks for of a cone."""
        return next(cone.free_mg for cone in self.left() if cone.id == cone_id)

    def _asked_for(self, without: Key | None = None) -> dict[int, int]:
        taken: dict[int, int] = {}
        most: dict[int, int] = {}
        for key, masses in self._taken.items():
            if key != without:
                for cone_id, mass in masses.items():
                    taken[cone_id] = taken.get(cone_id, 0) + mass
                for cone_id, mass in self._knots[key].items():
                    most[cone_id] = max(most.get(cone_id, 0), mass)
        return {cone_id: mass + most.get(cone_id, 0) for cone_id, mass in taken.items()}
