"""The picture of the cloth: colour order, pick order and structure as they meet, crossing by crossing.

The picture is laid out as rows of palette indices, one byte a pixel, every end and every pick a whole number
of pixels wide; `width_px` and `height_px` say how large it is to be shown so that sett and picks keep their true
proportion. The first pick lies at the bottom and the first end to the left, as the weaver sees the cloth
grow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from stash.calc.errors import CalcError
from stash.calc.structure import Structure

Rgb = tuple[int, int, int]

# Shades of one thread, from its edge to its crown; the base colour itself is the last but one.
_LIGHT = (Fraction(-34, 100), Fraction(-14, 100), Fraction(0), Fraction(11, 100))
LEVELS = len(_LIGHT)
_EDGE, _SIDE, _BASE, _CROWN = range(LEVELS)
MOST_COLOURS = 256 // LEVELS
# A thread wider than this gains nothing by more pixels.
_WIDEST = 12
# Largest picture laid out, in pixels of one byte: keeps a blanket within the time of a page.
_MOST_PIXELS = 12_000_000


@dataclass(frozen=True, slots=True)
class ClothPicture:
    """A laid-out picture: `pixels` has `columns` x `rows` bytes, top row first, each an index into `palette`.

    `end_px` and `pick_px` are the whole pixels that each thread takes there; `width_px` and `height_px` are
    the size at which it has true proportions.
    """

    columns: int
    rows: int
    pixels: bytes
    palette: tuple[Rgb, ...]
    end_px: int
    pick_px: int
    width_px: int
    height_px: int

    def colour_at(self, end: int, pick: int) -> Rgb:
        """Colour in the middle of the crossing of an end and a pick, both counted from 0."""
        column = end * self.end_px + self.end_px // 2
        row = self.rows - 1 - (pick * self.pick_px + self.pick_px // 2)
        return self.palette[self.pixels[row * self.columns + column]]


def palette_of(colours: Sequence[Rgb]) -> tuple[Rgb, ...]:
    """Each thread colour in its LEVELS shades, one colour after the other."""
    return tuple(_lit(colour, light) for colour in colours for light in _LIGHT)


def picks_within(picks: Sequence[int], pick_um: Fraction | int, length_um: int) -> Sequence[int]:
    """The picks of the first `length_um` of cloth, or all if there are fewer; one at least."""
    return picks[: max(1, int(Fraction(length_um) / pick_um))]


def cloth_picture(
    ends: Sequence[int],
    picks: Sequence[int],
    structure: Structure,
    colours: Sequence[Rgb],
    *,
    end_um: Fraction | int,
    pick_um: Fraction | int,
    width_px: int,
    tallest_px: int = 1600,
) -> ClothPicture:
    """Lay out the cloth.

    `ends` (left to right) and `picks` (first woven first) are indices into `colours`, which are sRGB triples;
    `end_um` and `pick_um` are the distances from thread to thread (the inverse of sett and picks).
    `width_px` is the width wanted; a cloth that would be taller than `tallest_px`, such as a narrow band, is
    shown smaller. Raises CalcError naming the field when a sequence is empty, an index has no colour, a
    distance or size is not positive, or there are more than MOST_COLOURS colours.
    """
    _check(ends, picks, colours, end_um=end_um, pick_um=pick_um, width_px=width_px, tallest_px=tallest_px)
    width_px, height_px = picture_size(
        len(ends) * end_um, len(picks) * pick_um, width_px=width_px, tallest_px=tallest_px
    )
    end_px = min(_WIDEST, ceil(width_px / len(ends)))
    pick_px = min(_WIDEST, ceil(height_px / len(picks)))
    while end_px * pick_px > 1 and len(ends) * end_px * len(picks) * pick_px > _MOST_PIXELS:
        end_px, pick_px = max(1, end_px - 1), max(1, pick_px - 1)
    lines = _Lines(ends, structure, end_px, pick_px)
    pixels = b"".join(
        lines.of(picks[pick], pick % structure.picks, across)
        for pick in range(len(picks) - 1, -1, -1)
        for across in range(pick_px - 1, -1, -1)
    )
    return ClothPicture(
        columns=len(ends) * end_px,
        rows=len(picks) * pick_px,
        pixels=pixels,
        palette=palette_of(colours),
        end_px=end_px,
        pick_px=pick_px,
        width_px=width_px,
        height_px=height_px,
    )


def picture_size(
    across_um: Fraction | int, along_um: Fraction | int, *, width_px: int, tallest_px: int
) -> tuple[int, int]:
    """Width and height in px of the picture of so much cloth, without laying it out."""
    slope = Fraction(along_um) / across_um
    if width_px * slope > tallest_px:
        width_px = max(1, round(tallest_px / slope))
    return width_px, min(tallest_px, max(1, round(width_px * slope)))


class _Lines:
    """Rows of pixels, made once for each pick colour, pick of the repeat and place across the pick."""

    def __init__(self, ends: Sequence[int], structure: Structure, end_px: int, pick_px: int) -> None:
        self.ends = ends
        self.structure = structure
        self.end_px = end_px
        self.pick_px = pick_px
        self.across_end = _profile(end_px)
        self.across_pick = _profile(pick_px)
        self.made: dict[tuple[int, int, int], bytes] = {}

    def of(self, colour: int, pick: int, across: int) -> bytes:
        key = (colour, pick, across)
        if key not in self.made:
            self.made[key] = self._make(colour, pick, across)
        return self.made[key]

    def _make(self, colour: int, pick: int, across: int) -> bytes:
        repeat = self.structure.ends
        # One stretch for each end of the repeat: where the weft is on top it is the same whatever the end's
        # colour; where the end is, it depends on that colour, so it is kept as levels and made per colour.
        weft: list[bytes | None] = []
        warp: list[tuple[int, ...]] = []
        for end in range(repeat):
            over = self.structure.up(end, pick)
            weft.append(None if over else self._weft(colour, end, pick, across))
            warp.append(self._warp(end, pick, across) if over else ())
        made: dict[tuple[int, int], bytes] = {}
        stretches: list[bytes] = []
        for place, end_colour in enumerate(self.ends):
            end = place % repeat
            stretch = weft[end]
            if stretch is None:
                if (end_colour, end) not in made:
                    made[end_colour, end] = bytes(end_colour * LEVELS + level for level in warp[end])
                stretch = made[end_colour, end]
            stretches.append(stretch)
        return b"".join(stretches)

    def _warp(self, end: int, pick: int, across: int) -> tuple[int, ...]:
        """Levels over one end that lies on top; dark where it is about to dive under the next pick."""
        dives = (across == 0 and not self.structure.up(end, pick - 1)) or (
            across == self.pick_px - 1 and not self.structure.up(end, pick + 1)
        )
        return tuple(_dim(level) if dives and self.pick_px > 2 else level for level in self.across_end)

    def _weft(self, colour: int, end: int, pick: int, across: int) -> bytes:
        """Palette indices over one end that the pick lies on; dark where the pick dives."""
        level = self.across_pick[across]
        levels = [level] * self.end_px
        if self.end_px > 2:
            if self.structure.up(end - 1, pick):
                levels[0] = _dim(level)
            if self.structure.up(end + 1, pick):
                levels[-1] = _dim(level)
        return bytes(colour * LEVELS + each for each in levels)


def _profile(px: int) -> tuple[int, ...]:
    """Light across one thread of so many pixels: its crown where it is highest, dark at its edges."""
    if px == 1:
        return (_BASE,)
    if px == 2:
        return (_BASE, _SIDE)
    if px == 3:
        return (_SIDE, _CROWN, _SIDE)
    half = [_EDGE, _SIDE] + [_BASE] * max(0, (px + 1) // 2 - 3) + [_CROWN]
    if px == 4:
        return (_SIDE, _CROWN, _BASE, _EDGE)
    left = half[: (px + 1) // 2]
    return tuple(left + left[::-1][px % 2 :])


def _dim(level: int) -> int:
    return max(_EDGE, level - 1)


def _lit(colour: Rgb, light: Fraction) -> Rgb:
    red, green, blue = colour
    return _channel(red, light), _channel(green, light), _channel(blue, light)


def _channel(value: int, light: Fraction) -> int:
    """Towards black for a negative light, towards white for a positive one; so even black shows its threads."""
    if light < 0:
        return round(value * (1 + light))
    return round(value + (255 - value) * light)


def _check(
    ends: Sequence[int],
    picks: Sequence[int],
    colours: Sequence[Rgb],
    **amounts: Fraction | int,
) -> None:
    if len(colours) > MOST_COLOURS:
        raise CalcError(f"A cloth picture shows {MOST_COLOURS} colours at most.", field="colours")
    for field, threads in (("ends", ends), ("picks", picks)):
        if not threads:
            raise CalcError(f"A cloth picture needs {field} to show.", field=field)
        if min(threads) < 0 or max(threads) >= len(colours):
            raise CalcError(f"One of the {field} has no colour among those given.", field=field)
    for field, amount in amounts.items():
        if amount <= 0:
            raise CalcError("This must be more than nothing.", field=field)
