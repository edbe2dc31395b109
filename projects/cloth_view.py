"""The cloth of a piece from end to end, as near as one likes: laid out in strips, each a picture of its own.

The strips stand one above the other, last pick on top. A browser fetches those that come into sight.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from projects.cloth import Face, Threads, draw, thread_um, threads_of
from stash.calc.cloth import ClothPicture
from stash.calc.draft import Interlacing
from stash.calc.losses import share_left
from stash.calc.needs import WorkedPlan
from stash.calc.sections import Section
from stash.models import Shade

ZOOMS = (1, 2, 4, 8)
WIDTH_PX = 660
"""Of the whole width on the loom at the first zoom; finished cloth is narrower by its losses."""
TALLEST_PX = 4000
THREAD_PX = 12
"""A thread drawn wider than this shows nothing more."""
STRIP_PX = 600_000
STRIP_CROSSINGS = 4_000_000
MOST_CROSSINGS = 40_000_000
"""A longer piece is shown from its first pick as far as this: a blanket of 1,000 ends has 40,000 picks in it."""


@dataclass(frozen=True, slots=True)
class Strip:
    """Some picks of one section; `first` counts the picks of the section below it."""

    section: int
    first: int
    picks: int
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class ClothView:
    """One way of looking at the cloth. Lengths in um."""

    worked: WorkedPlan
    weave: Interlacing
    face: Face
    zoom: int
    threads: Threads
    across_um: Fraction
    along_um: Fraction
    width_px: int

    @property
    def px_per_um(self) -> Fraction:
        return Fraction(self.width_px) / self.across_um

    @property
    def picks(self) -> int:
        """Picks shown, from the first."""
        return min(self.worked.weft.picks_per_piece, max(1, MOST_CROSSINGS // len(self.threads)))

    @property
    def strips(self) -> list[Strip]:
        """From the top of the picture down."""
        return list(self._strips())[::-1]

    def _strips(self) -> Iterator[Strip]:
        reached = Fraction(0)
        left = self.picks
        for at, section in enumerate(self.worked.weft.sections):
            step_px = self._pick_um(section) * self.px_per_um
            most = min(int(STRIP_PX / (self.width_px * step_px)), STRIP_CROSSINGS // len(self.threads))
            for first in range(0, section.picks, max(1, most)):
                picks = min(max(1, most), section.picks - first, left)
                if not picks:
                    return
                left -= picks
                bottom = round(reached)
                reached += picks * step_px
                # Each strip ends on a whole pixel, so that they meet without a seam.
                yield Strip(at, first, picks, self.width_px, max(1, round(reached) - bottom))

    def _pick_um(self, section: Section) -> Fraction:
        lost = self.worked.plan.losses_along if self.face.finished else ()
        return section.density.length_um_of(1) * share_left(lost)

    def draw(self, strip: Strip, shades: Mapping[str, Shade]) -> ClothPicture:
        """One strip. Raises CalcError."""
        section = self.worked.weft.sections[strip.section]
        keys = [key for stretch in section.stretches for key in stretch.sequence(strip.first + strip.picks)]
        return draw(
            self.threads,
            keys[strip.first : strip.first + strip.picks],
            self.weave,
            shades,
            self.face,
            end_um=self.across_um / len(self.threads),
            pick_um=Fraction(strip.height_px, strip.picks) / self.px_per_um,
            width_px=self.width_px,
            tallest_px=strip.height_px,
            first_pick=strip.first,
        )


def cloth_view(worked: WorkedPlan, weave: Interlacing, face: Face, zoom: int) -> ClothView:
    """The cloth so many times as large as its whole width fits into a page."""
    threads = threads_of(worked, weave)
    end_um, _ = thread_um(worked, face)
    across_um = end_um * len(threads)
    along_um = sum((_length_um(section) for section in worked.weft.sections), Fraction(0))
    if face.finished:
        along_um *= share_left(worked.plan.losses_along)
    return ClothView(
        worked=worked,
        weave=weave,
        face=face,
        zoom=zoom,
        threads=threads,
        across_um=across_um,
        along_um=along_um,
        width_px=max(1, int(_px_per_um(worked, len(threads)) * zoom * across_um)),
    )


def zooms_of(worked: WorkedPlan, weave: Interlacing) -> tuple[int, ...]:
    """The zooms that still show more than the one before them."""
    columns = len(threads_of(worked, weave))
    return tuple(
        zoom for zoom in ZOOMS if zoom == 1 or WIDTH_PX * zoom // 2 < min(columns * THREAD_PX, WIDTH_PX * 16)
    )


def _px_per_um(worked: WorkedPlan, columns: int) -> Fraction:
    """At the first zoom, the same on the loom and finished, so that what was lost is seen."""
    along_um = sum((_length_um(section) for section in worked.weft.sections), Fraction(0))
    return min(Fraction(WIDTH_PX) / worked.width.in_reed_um, Fraction(TALLEST_PX) / along_um)


def _length_um(section: Section) -> Fraction:
    return section.density.length_um_of(section.picks)
