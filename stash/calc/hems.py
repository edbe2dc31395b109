"""Hems: how much cloth a hem takes at one end of a piece, and what it is woven with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from stash.calc.colour_order import Order
from stash.calc.density import Density
from stash.calc.limits import check_length

HemKind = Literal["given", "single", "double", "small", "strip"]

SINGLE_EXTRA_UM = 6_350
"""A hem folded once over a serged edge takes a quarter inch beyond its depth (common practice)."""


@dataclass(frozen=True, slots=True)
class Hem:
    """The hem of a piece, alike at both ends. `depth_um` is what is seen of it, sewn.

    The kinds and the cloth that each takes at one end, in finished measure (common practice):
    `single`, folded once over a serged edge: depth + 1/4 in; `double`, turned twice in like folds: 2 x depth;
    `small`, turned twice with a small first fold: depth + fold; `strip`, a strip of plain weave left as it
    is: depth; `given`: the plan's own `hem_um` says how much, depth and fold are not asked.
    """

    kind: HemKind = "given"
    depth_um: int = 0
    fold_um: int = 0
    picks: Density | None = None
    """Picks to the length in the hem; None: as in the body."""
    pick_order: Order | None = None
    """Shades of the hem's weft, begun anew in each hem; None: the body's order runs on through the hem."""

    def __post_init__(self) -> None:
        check_length("hem_depth_um", self.depth_um, least=0)
        check_length("hem_fold_um", self.fold_um, least=0)

    def end_um(self, given_um: int) -> int:
        """Cloth at one end in finished um, of a hem that is reckoned; `given_um` is for both ends."""
        if self.kind == "single":
            return self.depth_um + SINGLE_EXTRA_UM if self.depth_um else 0
        if self.kind == "double":
            return 2 * self.depth_um
        if self.kind == "small":
            return self.depth_um + self.fold_um
        if self.kind == "strip":
            return self.depth_um
        return given_um // 2

    def cloth_um(self, given_um: int) -> int:
        """Cloth at both ends together, in finished um."""
        return given_um if self.kind == "given" else 2 * self.end_um(given_um)

    @property
    def woven_apart(self) -> bool:
        """Has the hem picks or shades of its own?"""
        return self.picks is not None or self.pick_order is not None
