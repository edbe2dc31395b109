"""Accent ends: a few ends of another shade at a place of their own, instead of ends or in addition to them.

The line reads `1 R at 33, 2 R after 60, 1 S in the middle`. Places count the ends of the pattern from the
left, as they stand without accents: `at 33` and `after 32` are the same place.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from stash.calc.errors import CalcError

AccentWay = Literal["replaces", "added"]
AccentEffect = Literal["none", "moves", "flips", "mirrors"]
MOST_ACCENTS = 100
MOST_ACCENT_ENDS = 1_000
MOST_CHARACTERS = 500

_ACCENT = re.compile(
    r"\s*(?P<number>[0-9]{1,5})\s*(?P<key>[A-Za-z]{1,2})\s+"
    r"(?:(?P<word>at|after)\s+(?P<place>[0-9]{1,6})|(?P<middle>in\s+the\s+middle))\s*",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Accent:
    """`number` ends of `key` with `place` ends of the pattern to their left; None is the middle."""

    number: int
    key: str
    place: int | None

    @property
    def text(self) -> str:
        where = "in the middle" if self.place is None else f"at {self.place + 1}"
        return f"{self.number} {self.key} {where}"


@dataclass(frozen=True, slots=True)
class PlacedAccent:
    """An accent where it stands; `at` counts the ends to its left in the whole warp, selvedges included."""

    accent: Accent
    place: int
    """Ends of the pattern to its left, accents not counted."""
    at: int
    effect: AccentEffect
    """What it does to the ends after it in plain weave (common practice). `none`: they stay on their shafts.
    Otherwise it was added, and they move to the other shaft. `flips`: two colours alternate across it, and the
    block flips there. `mirrors`: two like ends of an alternation part at it, and the flip that they would make side
    by side is taken away. `moves`: no alternation is there to flip."""


def read_accents(text: str) -> tuple[Accent, ...]:
    """Read a typed line; nothing is no accent. Raises CalcError with the 1-based position of what is amiss."""
    if not text.strip():
        return ()
    if len(text) > MOST_CHARACTERS:
        raise CalcError(
            f"Accents have at most {MOST_CHARACTERS} characters; write more of them into the order itself.",
            position=MOST_CHARACTERS + 1,
        )
    found: list[Accent] = []
    at = 0
    while True:
        match = _ACCENT.match(text, at)
        if match is None:
            start = at + len(text[at:]) - len(text[at:].lstrip())
            raise CalcError(
                "An accent reads 1 R at 33, 1 R after 32 or 1 R in the middle; the next follows a comma.",
                position=start + 1,
            )
        number = int(match["number"])
        place = None if match["middle"] else int(match["place"]) - (match["word"].lower() == "at")
        if not number:
            raise CalcError("An accent holds at least 1 end.", position=match.start("number") + 1)
        if place is not None and place < 0:
            raise CalcError("The first end is at 1.", position=match.start("place") + 1)
        found.append(Accent(number, match["key"].upper(), place))
        at = match.end()
        if at == len(text):
            break
        if text[at] != ",":
            raise CalcError(f"A comma is missing before “{text[at]}”.", position=at + 1)
        at += 1
    return tuple(found)


def write_accents(accents: Sequence[Accent]) -> str:
    """The line as it would be typed; reading it gives the same accents."""
    return ", ".join(accent.text for accent in accents)


def check_accents(accents: Sequence[Accent]) -> None:
    """Raises CalcError beyond 100 accents or 1,000 ends of them."""
    if len(accents) > MOST_ACCENTS or sum(accent.number for accent in accents) > MOST_ACCENT_ENDS:
        raise CalcError(
            f"At most {MOST_ACCENTS} accents of {MOST_ACCENT_ENDS:,} ends in all: write more of them into the "
            "order itself.",
            field="accents",
        )
    for accent in accents:
        if accent.number < 1 or (accent.place is not None and accent.place < 0):
            raise CalcError("An accent holds at least 1 end and stands at 1 or later.", field="accents")


def place_accents(
    accents: Sequence[Accent], way: AccentWay, threads: int, word: str = "ends"
) -> tuple[tuple[int, Accent], ...]:
    """(place, accent) from the left, in a pattern of so many threads.

    Raises CalcError where one stands beyond the pattern or on top of another.
    """
    placed = sorted(
        (
            (
                max(0, threads - (accent.number if way == "replaces" else 0)) // 2
                if accent.place is None
                else accent.place,
                at,
                accent,
            )
            for at, accent in enumerate(accents)
        ),
        key=lambda one: one[:2],
    )
    taken_to = 0
    for place, _, accent in placed:
        reach = place + (accent.number if way == "replaces" else 0)
        if reach > threads:
            raise CalcError(
                f"{accent.text} lies beyond the {threads:,} {word} of the pattern: give an earlier place.",
                field="accents",
            )
        if way == "replaces" and place < taken_to:
            raise CalcError(
                f"{accent.text} stands on top of another accent: give it a place of its own.", field="accents"
            )
        taken_to = reach
    return tuple((place, accent) for place, _, accent in placed)
