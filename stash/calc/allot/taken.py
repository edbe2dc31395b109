"""What is taken of a shade's cones, and what that leaves: exact, in whole mg."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

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
        taken: dict[int, int] = {}
        most: dict[int, int] = {}
        for key, masses in self._taken.items():
            if key != without:
                for cone_id, mass in masses.items():
                    taken[cone_id] = taken.get(cone_id, 0) + mass
                for cone_id, mass in self._knots[key].items():
                    most[cone_id] = max(most.get(cone_id, 0), mass)
        return [package.less(taken.get(package.id, 0) + most.get(package.id, 0)) for package in self.packages]


def fit_together(packages: Iterable[Package], given: Iterable[tuple[Asked, Sequence[Line]]]) -> bool:
    """Whether the cones hold all of these lines, and beside them what is kept back of each for knots."""
    taken: dict[int, int] = {}
    most: dict[int, int] = {}
    for asked, lines in given:
        for cone_id, mass in by_cone(lines).items():
            taken[cone_id] = taken.get(cone_id, 0) + mass
        for cone_id, mass in knots(asked, lines).items():
            most[cone_id] = max(most.get(cone_id, 0), mass)
    free = {package.id: package.free_mg for package in packages}
    return all(mass + most.get(cone_id, 0) <= free.get(cone_id, -1) for cone_id, mass in taken.items())
