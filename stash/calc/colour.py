"""How far apart are two colours? From a colour of the screen by CIELAB to the CIEDE2000 difference.

Floats are in place here: a difference of colours is no stock. A shade is judged by eye and by daylight; what a
screen shows of it is a hint, and so is the figure made of it.

Sources: sRGB to XYZ, IEC 61966-2-1:1999; CIELAB, CIE 15; the difference, G. Sharma, W. Wu, E. N. Dalal, The CIEDE2000
Color-Difference Formula: Implementation Notes, Supplementary Test Data, and Mathematical Observations, Color
Research and Application 30 (2005), pp. 21-30.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from math import atan2, cos, degrees, exp, hypot, radians, sin, sqrt

from stash.calc.errors import CalcError

_HEX = re.compile(r"#([0-9a-fA-F]{2})([0-9a-fA-F]{2})([0-9a-fA-F]{2})")

# Linear sRGB to XYZ under D65. Its rows add up to the white itself, so that every grey comes out without a hue. The
# same matrix with the white of D50 would tint them: CIELAB belongs to one white, and it must be the screen's.
_TO_XYZ = (
    (0.4124, 0.3576, 0.1805),
    (0.2126, 0.7152, 0.0722),
    (0.0193, 0.1192, 0.9505),
)
_WHITE = tuple(sum(row) for row in _TO_XYZ)
_25_TO_7 = 25.0**7

# Up to which difference a word holds. Common practice, no source: 1 is about what a trained eye can see side by side.
_WORDS = (
    (1.0, "as good as the same"),
    (3.0, "very near"),
    (6.0, "near"),
    (12.0, "akin"),
    (25.0, "farther off"),
)
FARTHEST = "another colour"


@dataclass(frozen=True, slots=True)
class Lab:
    """A colour in CIELAB under D65: lightness 0 to 100, `a` towards red, `b` towards yellow."""

    lightness: float
    a: float
    b: float


@lru_cache(maxsize=8192)
def lab_of(colour: str) -> Lab:
    """Of #rrggbb. Raises CalcError for anything else."""
    found = _HEX.fullmatch(colour)
    if found is None:
        raise CalcError("Give the colour as # and six figures 0-9 a-f, such as #2f5d50.", field="colour")
    red, green, blue = (_linear(int(part, 16) / 255) for part in found.groups())
    x, y, z = (
        _bent((row[0] * red + row[1] * green + row[2] * blue) / white)
        for row, white in zip(_TO_XYZ, _WHITE, strict=True)
    )
    return Lab(116 * y - 16, 500 * (x - y), 200 * (y - z))


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)


def _bent(share: float) -> float:
    return float(share ** (1 / 3)) if share > 216 / 24389 else (24389 / 27 * share + 16) / 116


@lru_cache(maxsize=16384)
def apart(colour: str, other: str) -> float:
    """The difference of two colours of the screen, each #rrggbb. Raises CalcError for anything else."""
    return difference(lab_of(colour), lab_of(other))


def difference(one: Lab, other: Lab) -> float:
    """CIEDE2000 with all three weights at 1: 0 for the same, about 1 for the least that is seen, 100 black to white."""
    mean_7 = ((hypot(one.a, one.b) + hypot(other.a, other.b)) / 2) ** 7
    stretch = 1 + 0.5 * (1 - sqrt(mean_7 / (mean_7 + _25_TO_7)))
    chroma_1, hue_1 = _polar(one.a * stretch, one.b)
    chroma_2, hue_2 = _polar(other.a * stretch, other.b)
    both = chroma_1 * chroma_2

    turn = _turn(hue_1, hue_2) if both else 0.0
    d_lightness = other.lightness - one.lightness
    d_chroma = chroma_2 - chroma_1
    d_hue = 2 * sqrt(both) * sin(radians(turn / 2))

    lightness = (one.lightness + other.lightness) / 2
    chroma = (chroma_1 + chroma_2) / 2
    hue = _mean_hue(hue_1, hue_2) if both else hue_1 + hue_2
    tilt = (
        1
        - 0.17 * cos(radians(hue - 30))
        + 0.24 * cos(radians(2 * hue))
        + 0.32 * cos(radians(3 * hue + 6))
        - 0.20 * cos(radians(4 * hue - 63))
    )
    of_lightness = 1 + 0.015 * (lightness - 50) ** 2 / sqrt(20 + (lightness - 50) ** 2)
    of_chroma = 1 + 0.045 * chroma
    of_hue = 1 + 0.015 * chroma * tilt
    chroma_7 = chroma**7
    crossed = -2 * sqrt(chroma_7 / (chroma_7 + _25_TO_7)) * sin(radians(60 * exp(-(((hue - 275) / 25) ** 2))))
    by_chroma, by_hue = d_chroma / of_chroma, d_hue / of_hue
    total = (d_lightness / of_lightness) ** 2 + by_chroma**2 + by_hue**2 + crossed * by_chroma * by_hue
    return sqrt(max(0.0, total))


def _polar(a: float, b: float) -> tuple[float, float]:
    """Chroma, and hue in degrees from 0 up to 360; a grey has hue 0."""
    return hypot(a, b), degrees(atan2(b, a)) % 360 if a or b else 0.0


# Two hues that lie exactly across stand so by the last bit of a float only; they count as not farther than half round.
_HALF = 180 + 1e-9


def _turn(hue_1: float, hue_2: float) -> float:
    """The shorter way round from one hue to the other, in degrees."""
    turn = hue_2 - hue_1
    if turn > _HALF:
        return turn - 360
    return turn + 360 if turn < -_HALF else turn


def _mean_hue(hue_1: float, hue_2: float) -> float:
    total = hue_1 + hue_2
    if abs(hue_1 - hue_2) <= _HALF:
        return total / 2
    return (total + 360) / 2 if total < 360 else (total - 360) / 2


def in_words(gap: float) -> str:
    """What a difference comes to for the eye."""
    return next((word for most, word in _WORDS if gap <= most), FARTHEST)
