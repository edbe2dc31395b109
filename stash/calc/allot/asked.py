"""What is asked of the shelf, and what stands on it: what an allotment is made from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Line, Need, Proposal, propose

Key = tuple[int, str]
"""A project and the key that one of its shades has in its plan."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What one project asks of one shade.

    `warp_um` is the length of one end, `pieces` those of all like warps together, `keep_back` warp lengths a cone.
    """

    project_id: int
    shade_id: int
    need: Need
    """With its wish for lots."""
    warp_um: int
    pieces: int
    keep_back: int
    grist: Grist
    need_on: date | None
    rank: int
    at_once: int = 1
    """How many ends of this shade are wound together, each from a package of its own."""
    held: tuple[Line, ...] = ()
    """What it has reserved now."""
    fixed: bool = False
    """Yarn of the project is wound or weaving has begun: it keeps what it holds, and asks for nothing."""

    def __post_init__(self) -> None:
        if self.warp_um < 1:
            raise CalcError("The warp must be longer than nothing.", field="warp_um")
        if self.pieces < 0:
            raise CalcError("There are no fewer than no pieces.", field="pieces")
        if self.keep_back < 0:
            raise CalcError("No less than nothing is kept back.", field="keep_back")
        if self.at_once < 1:
            raise CalcError("At least one end is wound at a time.", field="at_once")

    @property
    def key(self) -> Key:
        return self.project_id, self.need.key

    @property
    def turn(self) -> tuple[bool, date, int, int]:
        """By which projects are served: the earliest need day first, those without one last; then by rank."""
        return self.need_on is None, self.need_on or date.max, self.rank, self.project_id

    @property
    def bare_um(self) -> int:
        return self.need.ends * self.warp_um + self.need.weft_um(self.pieces)

    def proposed(self, cones: Iterable[ConeStock]) -> Proposal:
        """What it would reserve if it were alone."""
        return propose(self.need, self.warp_um, self.pieces, self.keep_back, self.grist, list(cones))


@dataclass(frozen=True, slots=True)
class Package:
    """A cone of a shade. `lot` None is a lot not known, which is one of its own.

    `free_mg` is what is on hand less what is reserved for claims that are not among those asked: what is held by the
    projects asked counts as free here, that of `fixed` ones too. Not below 0.
    """

    id: int
    shade_id: int
    lot: int | None
    free_mg: int

    def __post_init__(self) -> None:
        if self.free_mg < 0:
            raise CalcError("What is free on a cone is not below 0.", field="free_mg")

    @property
    def of_lot(self) -> tuple[bool, int]:
        """Equal for cones of one lot."""
        return (False, self.id) if self.lot is None else (True, self.lot)

    def less(self, mass_mg: int) -> ConeStock:
        """As a cone for packing, without so much; a weigh-in may have undercut what is reserved."""
        return ConeStock(self.id, self.lot, max(0, self.free_mg - mass_mg))
