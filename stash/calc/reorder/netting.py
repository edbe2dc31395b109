"""Netting through time: needs of each period less what is there and due, and the orders that fill the rest.

As in T. E. Vollmann, W. L. Berry & D. C. Whybark, Manufacturing Planning and Control Systems, and L. J. Krajewski &
L. P. Ritzman, Operations Management (chapters on requirements planning; pages from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stash.calc.errors import CalcError


@dataclass(frozen=True, slots=True)
class LotRule:
    """At least `least`, and in whole multiples of `multiple`. `fixed` is ordered as often as is needed."""

    least: int = 1
    multiple: int = 1

    def __post_init__(self) -> None:
        if self.least < 1 or self.multiple < 1:
            raise CalcError("A lot is one at least.", field="lot")

    @classmethod
    def fixed(cls, size: int) -> LotRule:
        return cls(size, size)

    def lot_for(self, wanted: int) -> int:
        """The least lot that covers it; 0 for nothing."""
        if wanted <= 0:
            return 0
        return -(-max(wanted, self.least) // self.multiple) * self.multiple


@dataclass(frozen=True, slots=True)
class Netted:
    """One figure a period in every row."""

    on_hand: tuple[int, ...]
    """At the end of the period."""
    net: tuple[int, ...]
    """Still missing, before an order."""
    receipts: tuple[int, ...]
    """Orders that must come."""
    releases: tuple[int, ...]
    """Orders that must go out: the same, a lead time sooner."""
    too_late: int
    """What must have gone out before the first period."""


def net(
    needs: Sequence[int],
    due: Sequence[int],
    on_hand: int,
    lead: int,
    rule: LotRule | None = None,
    safety: int = 0,
) -> Netted:
    """`due` is awaited already, at the beginning of its period; `lead` in periods. At the end of each period no less
    than `safety` is there. Raises CalcError.
    """
    if len(needs) != len(due):
        raise CalcError("What is needed and what is due have as many periods.", field="due")
    if lead < 0 or safety < 0 or min([0, *needs, *due]) < 0:
        raise CalcError("Needs, what is due, lead time and safety are not below 0.", field="needs")
    rule = rule or LotRule()
    ends, nets, receipts = [], [], []
    left = on_hand
    for need, comes in zip(needs, due, strict=True):
        left += comes - need
        missing = max(0, safety - left)
        lot = rule.lot_for(missing)
        left += lot
        ends.append(left)
        nets.append(missing)
        receipts.append(lot)
    releases = receipts[lead:] + [0] * min(lead, len(receipts))
    return Netted(tuple(ends), tuple(nets), tuple(receipts), tuple(releases), sum(receipts[:lead]))
