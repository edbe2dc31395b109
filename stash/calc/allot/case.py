"""The case of one shade: who asks for it, what is left when those already begun have theirs, and who is served."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from stash.calc.allot.asked import Asked, Key, Package
from stash.calc.allot.taken import Taken, by_cone, mass_up
from stash.calc.errors import CalcError
from stash.calc.grist import UM_PER_YD
from stash.calc.packing import Proposal

STUB_UM = 25 * UM_PER_YD
"""Where nobody asks for warp of a shade: below 20 to 30 yd yarn is for samples and ties (common practice, no source)."""


@dataclass(slots=True)
class Case:
    shade_id: int
    packages: Sequence[Package]
    """By id, less what is held by projects already begun."""
    asked: Sequence[Asked]
    """In the order in which they are served, those begun left out."""
    served: list[Asked] = field(default_factory=list)
    witness: Taken | None = None
    """A way to serve them all, barely."""

    _alone: dict[Key, Proposal] = field(default_factory=dict)

    def alone(self, one: Asked) -> Proposal:
        """What it would reserve if nobody else asked."""
        if one.key not in self._alone:
            self._alone[one.key] = one.proposed(package.less(0) for package in self.packages)
        return self._alone[one.key]

    @property
    def short(self) -> list[Asked]:
        """Who asks for the shade and is not served."""
        keys = {one.key for one in self.served}
        return [one for one in self.asked if one.key not in keys]

    def stubs_mg(self, taken: Taken) -> int:
        """mg of all rests that are stubs. A mg for each who asks is rounding, and none."""
        used = by_cone(line for lines in taken.lines.values() for line in lines)
        rests = (package.free_mg - used.get(package.id, 0) for package in self.packages)
        return sum(rest for rest in rests if len(self.asked) < rest < self.stub[1])

    @property
    def stub(self) -> tuple[int, int]:
        """Below what a rest is of no more use, in um and in mg: the shortest end that anybody wants of the shade."""
        lengths = [(mass_up(one, one.warp_um), one.warp_um) for one in self.asked if one.need.ends]
        if not lengths:
            lengths = [(mass_up(one, STUB_UM), STUB_UM) for one in self.asked]
        mass, length = min(lengths, default=(0, 0))
        return length, mass


def cases_of(demands: Sequence[Asked], cones: Sequence[Package]) -> tuple[list[list[Asked]], dict[int, Case]]:
    """The projects in the order in which they are served, each by shade, and the cases by shade."""
    by_project: dict[int, list[Asked]] = {}
    for one in demands:
        by_project.setdefault(one.project_id, []).append(one)
    for project_id, asked in by_project.items():
        if len({one.turn for one in asked}) > 1 or len({one.fixed for one in asked}) > 1:
            raise CalcError(f"Project {project_id} asks for its shades with different days or ranks.")
        if len({one.key for one in asked}) < len(asked):
            raise CalcError(f"Project {project_id} asks twice under one key.", field="key")
        asked.sort(key=lambda one: (one.shade_id, one.need.key))
    if len({cone.id for cone in cones}) < len(cones):
        raise CalcError("A cone stands there twice.", field="cones")
    projects = sorted(by_project.values(), key=lambda asked: asked[0].turn)
    fixed = by_cone(line for one in demands if one.fixed for line in one.held)
    shades: dict[int, list[Asked]] = {one.shade_id: [] for one in demands}
    for asked in projects:
        for one in asked:
            if not one.fixed:
                shades[one.shade_id].append(one)
    packages: dict[int, list[Package]] = {shade_id: [] for shade_id in shades}
    for cone in sorted(cones, key=lambda cone: cone.id):
        if cone.shade_id in packages:
            free = max(0, cone.free_mg - fixed.get(cone.id, 0))
            packages[cone.shade_id].append(replace(cone, free_mg=free))
    return projects, {
        shade_id: Case(shade_id, packages[shade_id], asked) for shade_id, asked in sorted(shades.items())
    }
