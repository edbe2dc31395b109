"""What comes of an allotment: who gets which yarn from which cone, and how far that is proven the best."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from stash.calc.allot.asked import Key
from stash.calc.packing import Line

Standing = Literal["served", "short", "fixed"]
"""served: all its shades, at least without the buffer; short: not all of them, so it gets nothing new and keeps of what
it holds whatever harms nobody who is served; fixed: begun, so nothing of it moves."""

Cause = Literal["alone", "before", "time"]
"""alone: the shelf does not serve it even if nobody else asked; before: it would, but those who go before need the yarn;
time: the time given was over before that was settled."""


@dataclass(frozen=True, slots=True)
class Lacking:
    """A shade for which a project is not served."""

    shade_id: int
    key: str
    cause: Cause
    before: tuple[int, ...] = ()
    """Projects served before it that take of this shade, in the order in which they are served."""


@dataclass(frozen=True, slots=True)
class ShadeShare:
    """What one project gets of one shade."""

    project_id: int
    shade_id: int
    key: str
    lines: tuple[Line, ...]
    """As they are reserved: whole ends and um, at most one line of warp and one of weft from a cone."""
    buffered: bool
    """The need with its buffer is served, not the bare one alone."""
    changed: bool
    """It is not what the project holds now."""
    warp_lots: tuple[int | None, ...] = ()
    """None for each lot not known."""
    weft_lots: tuple[int | None, ...] = ()
    warp_lots_alone: int = 0
    """Of how many lots its warp would be if nobody else asked: where `warp_lots` are more, lots are mixed so that others
    are served too."""
    wound_over: int = 0
    """Ends for which a package has to be wound over, since fewer cones give warp than are wound from at once."""

    @property
    def id(self) -> Key:
        return self.project_id, self.key


@dataclass(frozen=True, slots=True)
class ProjectShare:
    """What becomes of one project."""

    project_id: int
    standing: Standing
    shades: tuple[ShadeShare, ...]
    lacking: tuple[Lacking, ...] = ()
    """Only of one that is short."""
    proven: bool = True
    """That it is, or is not, served is proven: no other way to share out serves it and all that go before."""


Way = Literal["proposals", "solver", "fallback"]
"""proposals: what each project would reserve alone fits together, so nothing was solved; solver: by exact optimisation;
fallback: by our own packing, one project after the other."""


@dataclass(frozen=True, slots=True)
class ShadeReport:
    """How one shade was shared out, and how much better it could be at most.

    A stub is the rest of a cone that is shorter than `stub_um`. Where the shade was not solved nothing is known of a
    better way, and the least figures are 0.
    """

    shade_id: int
    way: Way
    lots_proven: bool
    """No other way to serve the same projects mixes fewer lots."""
    stub_um: int
    stub_mg: int
    """In all cones of the shade together, opened or not."""
    stub_least_mg: int
    """What is proven that it cannot be less than."""
    opened: int
    """Cones from which any served project takes."""
    opened_least: int

    @property
    def stub_gap_mg(self) -> int:
        return max(0, self.stub_mg - self.stub_least_mg)


@dataclass(frozen=True, slots=True)
class Allotment:
    """Who gets what. Projects stand in the order in which they are served, shades by id."""

    projects: tuple[ProjectShare, ...]
    reports: tuple[ShadeReport, ...]
    fallback: str = ""
    """Why the exact optimisation was not to be had, as a sentence; "" where it was."""
    stopped: bool = False
    """The deadline came, or it was stopped, before all stages were through."""

    @property
    def shares(self) -> tuple[ShadeShare, ...]:
        return tuple(share for project in self.projects for share in project.shades)

    @property
    def served(self) -> tuple[int, ...]:
        return tuple(project.project_id for project in self.projects if project.standing == "served")

    @property
    def served_proven(self) -> bool:
        return all(project.proven for project in self.projects)

    @property
    def lots_proven(self) -> bool:
        return all(report.lots_proven for report in self.reports)

    @property
    def stub_gap(self) -> float:
        """How much of the stubs might still be saved: 0 is nothing, proven; 1 all of it. Of the shades solved."""
        solved = [report for report in self.reports if report.way == "solver"]
        stubs = sum(report.stub_mg for report in solved)
        return sum(report.stub_gap_mg for report in solved) / stubs if stubs else 0.0


@dataclass(frozen=True, slots=True)
class Progress:
    """How far it is: in `serving` so many projects are settled of all, in `sharing`, which goes over the contested shades
    three times, so many shades of three times as many."""

    stage: Literal["serving", "sharing"]
    done: int
    of: int


class Stop(Exception):
    """Raised by `told` to end the work: the allotment found so far is given back, as at the deadline."""
