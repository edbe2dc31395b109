"""Selvedges: ends that float beside the cloth's edge, and outermost ends that are doubled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from stash.calc.errors import CalcError
from stash.calc.limits import check_within

DoubledWay = Literal["heddle", "dent", "apart"]
MOST_DOUBLED = 100


@dataclass(frozen=True, slots=True)
class Selvedges:
    """What is added at both edges alike (common practice).

    A floating selvedge is one end more on each side: in the reed, in no heddle. `doubled_ends` outermost ends
    on each side are doubled, each beside itself: `heddle`, in one heddle and dent with it (more yarn only);
    `dent`, in one dent with it (more yarn and heddles); `apart`, in neither (more of all, and wider).
    """

    floating: bool = False
    floating_key: str = ""
    """Shade of the floating ends; empty: that of the edge end beside each."""
    doubled_ends: int = 0
    doubled_way: DoubledWay = "heddle"

    def __post_init__(self) -> None:
        check_within("doubled_ends", self.doubled_ends, 0, MOST_DOUBLED, "ends on each side")
        key = self.floating_key
        if key and not (1 <= len(key) <= 2 and key.isascii() and key.isalpha() and key.isupper()):
            raise CalcError("A shade is one or two letters from A to Z.", field="floating_key")

    @property
    def shares_heddle(self) -> bool:
        return self.doubled_way == "heddle"

    @property
    def shares_dent(self) -> bool:
        return self.doubled_way != "apart"

    @property
    def extra_ends(self) -> int:
        """Ends beyond the pattern, both sides together."""
        return 2 * (self.doubled_ends + self.floating)

    @property
    def extra_places(self) -> int:
        """Places in the reed beyond the pattern's, both sides together."""
        return 2 * (self.floating + (0 if self.shares_dent else self.doubled_ends))
