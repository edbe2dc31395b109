"""Winding over: several ends of one shade are wound at once from as many packages, and each must last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from stash.calc.errors import CalcError


@dataclass(frozen=True, slots=True)
class Package:
    """One package among those wound together; um, in the order in which they were given."""

    length_um: int
    ends: int
    """Ends that it has to give."""
    needed_um: int
    over_um: int
    """What has to be wound on to it from the others before the start; 0 where it lasts. The join is a knot:
    it costs up to a warp length unless whole warp lengths are wound over."""
    spare_um: int
    """What it can give away; the shelf suffices if the spares come to at least the overs."""


@dataclass(frozen=True, slots=True)
class WindOver:
    passes_as_they_are: int
    """Passes with all packages before the smallest is empty."""
    packages: tuple[Package, ...]

    @property
    def over_um(self) -> int:
        """What has to be wound over in all."""
        return sum(package.over_um for package in self.packages)

    @property
    def enough(self) -> bool:
        return self.over_um <= sum(package.spare_um for package in self.packages)


def passes_together(lengths_um: Sequence[int], warp_um: int) -> int:
    """How often all packages can be wound together: the smallest decides (it gives whole ends only)."""
    if not lengths_um:
        raise CalcError("Give at least one package.", field="lengths_um")
    if warp_um < 1:
        raise CalcError("The warp must be longer than nothing.", field="warp_um")
    return min(length // warp_um for length in lengths_um)


def wind_over(lengths_um: Sequence[int], ends: int, warp_um: int) -> WindOver:
    """Share so many ends among the packages evenly; the longest take one more where it does not come out."""
    passes = passes_together(lengths_um, warp_um)
    each, more = divmod(ends, len(lengths_um))
    longest_first = sorted(range(len(lengths_um)), key=lambda place: -lengths_um[place])
    takes_more = set(longest_first[:more])
    packages = []
    for place, length in enumerate(lengths_um):
        share = each + (place in takes_more)
        needed = share * warp_um
        packages.append(Package(length, share, needed, max(0, needed - length), max(0, length - needed)))
    return WindOver(passes, tuple(packages))
