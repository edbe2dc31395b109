"""The colours of the pages against each other, computed as WCAG 2.2 (W3C, 2023) defines contrast ratio."""

import re
from pathlib import Path

import pytest

import stash

TOKENS = Path(stash.__file__).parent / "static/stash/css/tokens.css"
LIGHT, DARK = (
    dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6}|#fff);", scheme))
    for scheme in TOKENS.read_text().split("@media (prefers-color-scheme: dark)")
)


def luminance(colour):
    """Relative luminance of sRGB, W3C, WCAG 2.2, section 'relative luminance'."""
    colour = "#ffffff" if colour == "#fff" else colour
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_black_on_white_is_twenty_one_to_one():
    # W3C, WCAG 2.2, section "contrast ratio": the ratio reaches from 1 to 21.
    assert contrast("#000000", "#fff") == pytest.approx(21)


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["ground", "raised", "sunk"])
@pytest.mark.parametrize("text", ["ink", "muted", "accent", "good", "caution", "bad"])
def test_everything_read_is_readable(scheme, ground, text):
    assert contrast(scheme[text], scheme[ground]) >= 4.5  # success criterion 1.4.3


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["ground", "raised", "sunk"])
@pytest.mark.parametrize("line", ["edge", "focus"])
def test_controls_and_focus_are_found(scheme, ground, line):
    assert contrast(scheme[line], scheme[ground]) >= 3  # success criterion 1.4.11


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("fill", ["accent-fill", "accent-fill-over"])
def test_the_chief_button_is_readable_and_found(scheme, fill):
    assert contrast(scheme["accent-ink"], scheme[fill]) >= 4.5
    assert contrast(scheme[fill], scheme["ground"]) >= 3


def test_the_dark_scheme_names_every_colour_anew():
    assert DARK.keys() == LIGHT.keys()
