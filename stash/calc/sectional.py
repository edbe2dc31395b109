"""Sectional beam: every section is wound at once from as many spools as it has ends."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from stash.calc.density import Density
from stash.calc.errors import CalcError

CUTTING_UM = 457_200
"""Cutting waste of a section: half a yard (common practice)."""


@dataclass(frozen=True, slots=True)
class BeamSection:
    """Ends `first` to `first` + `ends` - 1, counted from 0, and how many of each shade are among them."""

    first: int
    ends: int
    by_key: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Spools:
    """So many spools of a shade, each of which serves so many sections and needs `length_um`."""

    key: str
    number: int
    sections: int
    length_um: int


@dataclass(frozen=True, slots=True)
class Sectional:
    sections: tuple[BeamSection, ...]
    spools: tuple[Spools, ...]

    @property
    def spools_at_once(self) -> int:
        """Spools on the rack for the fullest section."""
        return max(section.ends for section in self.sections)

    @property
    def length_um(self) -> int:
        """Yarn on all spools."""
        return sum(spool.number * spool.length_um for spool in self.spools)


def into_sections(
    keys: Sequence[str], sett: Density, section_um: int, warp_um: int, cutting_um: int = CUTTING_UM
) -> Sectional:
    """The warp in sections of so much width on the beam, from the left.

    Ends go to sections as they fall: where sett x width is no whole number, neighbours differ by an end. A spool
    serves every section that needs as many of its shade, and needs sections x (warp length + cutting waste):
    not one section's length (the usual mistake; common practice).
    """
    if section_um < 1:
        raise CalcError("A section is wider than nothing.", field="section_um")
    if warp_um < 1 or cutting_um < 0:
        raise CalcError("The warp is longer than nothing, the waste at least nothing.", field="warp_um")
    if not keys:
        raise CalcError("There are no ends to wind.", field="keys")
    per_section = sett.number_in(section_um)
    if per_section < 1:
        raise CalcError("A section holds at least one end: give a wider one.", field="section_um")
    sections: list[BeamSection] = []
    start = 0
    while start < len(keys):
        stop = min(len(keys), int(Fraction(len(sections) + 1) * per_section))
        counts = Counter(keys[start:stop])
        sections.append(BeamSection(start, stop - start, tuple(counts.items())))
        start = stop
    return Sectional(tuple(sections), tuple(_spools(keys, sections, warp_um + cutting_um)))


def _spools(keys: Sequence[str], sections: Sequence[BeamSection], each_um: int) -> list[Spools]:
    """For each shade: the first spool serves all sections that need one, the second those that need two, ..."""
    found: list[Spools] = []
    for key in dict.fromkeys(keys):
        counts = [dict(section.by_key).get(key, 0) for section in sections]
        serves = [sum(count >= level for count in counts) for level in range(1, max(counts) + 1)]
        for number, spools in sorted(Counter(serves).items(), reverse=True):
            found.append(Spools(key, spools, number, number * each_um))
    return found
