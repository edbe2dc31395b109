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
from typing import TypeVar

from stash.calc.draft import Interlacing, threading_of
from stash.calc.errors import CalcError

Rgb = tuple[int, int, int]
Pick = TypeVar("Pick")

# Shades of one thread, from its edge to its crown; the base colour itself is the last but one.
_LIGHT = (Fraction(-34, 100), Fraction(-14, 100), Fraction(0), Fraction(11, 100))
LEVELS = len(_LIGHT)
_EDGE, _SIDE, _BASE, _CROWN = range(LEVELS)
MOST_COLOURS = 256 // LEVELS
# A thread wider than this gains nothing by more pixels.
_WIDEST = 12
# Largest picture laid out, in pixels of one byte: keeps a blanket within the time of a page.
_MOST_PIXELS = 12_000_000
# Ends in no heddle: the shuttle enters over one and leaves under the other, from the left on the first pick (common
# practice).
FLOATING_LEFT, FLOATING_RIGHT = 254, 255
_OTHER_SIDE = bytes(0xFF ^ side for side in range(256))


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


def picks_within(picks: Sequence[Pick], pick_um: Fraction | int, length_um: int) -> Sequence[Pick]:
    """The picks of the first `length_um` of cloth, or all if there are fewer; one at least."""
    return picks[: max(1, int(Fraction(length_um) / pick_um))]


def cloth_picture(
    ends: Sequence[int],
    picks: Sequence[int],
    structure: Interlacing,
    colours: Sequence[Rgb],
    *,
    end_um: Fraction | int,
    pick_um: Fraction | int,
    width_px: int,
    tallest_px: int = 1600,
    back: bool = False,
    shafts: Sequence[int] | None = None,
    first_pick: int = 0,
) -> ClothPicture:
    """Lay out the cloth.

    `ends` (left to right) and `picks` (first woven first) are indices into `colours`, which are sRGB triples;
    `end_um` and `pick_um` are the distances from thread to thread (the inverse of sett and picks), on the
    loom or finished. `back` shows the other side, the cloth turned over sideways. `shafts` is the
    shaft of every end, or FLOATING_LEFT or FLOATING_RIGHT; without it all ends are threaded by the structure.
    `first_pick` is the place of the first of `picks` in the piece, counted from 0.
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
    if shafts is None:
        shafts = threading_of(structure, len(ends))
    lines = _Lines(ends, structure.lifts, bytes(shafts), end_px, pick_px, back=back)
    pixels = b"".join(
        lines.of(picks[pick], first_pick + pick, across)
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
    """Rows of pixels. A row is one long number of a byte a pixel, so that all its ends are laid at once.

    An index into the palette is a colour and a level side by side; which of warp and weft a pixel shows is a
    mask of the ends that the pick lifts.
    """

    def __init__(
        self,
        ends: Sequence[int],
        lifts: Sequence[frozenset[int]],
        shafts: bytes,
        end_px: int,
        pick_px: int,
        *,
        back: bool,
    ) -> None:
        self.number = len(ends)
        self.end_px, self.pick_px = end_px, pick_px
        self.back = back
        self.pixels = self.number * end_px
        self.every = _number(b"\xff" * self.pixels)
        self.sheds = self._sheds(lifts, shafts)
        shown = ends[::-1] if back else ends
        warp = _widened(bytes(colour * LEVELS for colour in shown), end_px)
        across = _profile(end_px)
        self.warp = _number(warp) | self._each_end(across)
        self.warp_diving = _number(warp) | self._each_end([_dim(level) for level in across])
        self.over_pick = _profile(pick_px)
        # The pixels of an end that border on its neighbours.
        self.left_px = self._each_end([0xFF] + [0] * (end_px - 1))
        self.right_px = self._each_end([0] * (end_px - 1) + [0xFF])
        self.made: dict[tuple[int, int, int, int], bytes] = {}

    def _each_end(self, pixels: Sequence[int]) -> int:
        return _number(bytes(pixels) * self.number)

    def _sheds(self, lifts: Sequence[frozenset[int]], shafts: bytes) -> list[int]:
        """The mask of every pick of the repeat; of two repeats if the shuttle's way back falls into the second."""
        ways = 2 if len(lifts) % 2 and (FLOATING_LEFT in shafts or FLOATING_RIGHT in shafts) else 1
        seen: dict[tuple[frozenset[int], int], int] = {}
        sheds = []
        for pick in range(len(lifts) * ways):
            key = lifts[pick % len(lifts)], pick % 2
            if key not in seen:
                lifted = {*key[0], FLOATING_LEFT if pick % 2 else FLOATING_RIGHT}
                sides = shafts.translate(bytes(0xFF * (shaft in lifted) for shaft in range(256)))
                if self.back:
                    sides = sides[::-1].translate(_OTHER_SIDE)
                seen[key] = _number(_widened(sides, self.end_px))
            sheds.append(seen[key])
        return sheds

    def of(self, colour: int, pick: int, across: int) -> bytes:
        sheds = self.sheds
        here = sheds[pick % len(sheds)]
        below, above = sheds[(pick - 1) % len(sheds)], sheds[(pick + 1) % len(sheds)]
        # A pick's own rows differ only by what lies beside them; those of the middle by nothing.
        beside = below if across == 0 else above if across == self.pick_px - 1 else 0
        key = colour, across, here, beside
        if key not in self.made:
            self.made[key] = self._make(colour, across, here, below, above)
        return self.made[key]

    def _make(self, colour: int, across: int, here: int, below: int, above: int) -> bytes:
        stays = self.every
        if self.pick_px > 2:
            if across == 0:
                stays &= below
            if across == self.pick_px - 1:
                stays &= above
        warp = (self.warp & stays) | (self.warp_diving & (self.every ^ stays))
        level = self.over_pick[across]
        weft = _number(bytes([colour * LEVELS + level]) * self.pixels)
        if self.end_px > 2:
            step = 8 * self.end_px
            beside = (here >> step & self.left_px) | (here << step & self.right_px & self.every)
            diving = _number(bytes([colour * LEVELS + _dim(level)]) * self.pixels)
            weft = (weft & (self.every ^ beside)) | (diving & beside)
        return ((warp & here) | (weft & (self.every ^ here))).to_bytes(self.pixels, "big")


def _widened(sides: bytes, px: int) -> bytes:
    """Each byte so many times."""
    wide = bytearray(len(sides) * px)
    for place in range(px):
        wide[place::px] = sides
    return bytes(wide)


def _number(pixels: bytes) -> int:
    """Pixels as one number, the left one first; so a shift to the right is one to the right in the picture."""
    return int.from_bytes(pixels, "big")


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
