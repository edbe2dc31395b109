"""The cloth picture of 1,000 ends and 1,500 picks as a browser gets it, and the rows of an order that is edited."""

from __future__ import annotations

from collections.abc import Callable

from stash.calc.cloth import cloth_picture
from stash.calc.colour_order import read_order
from stash.calc.draft import Interlacing, longest_floats, read_draft
from stash.calc.order_edit import moved, rows_of
from stash.calc.structure import structure
from stash.drawing import cloth_png

COLOURS = ((39, 49, 79), (244, 240, 230), (156, 54, 38), (200, 160, 90))
ENDS = [end // 7 % len(COLOURS) for end in range(1_000)]
PICKS = [pick // 9 % len(COLOURS) for pick in range(1_500)]


def calls() -> dict[str, Callable[[], object]]:
    """What is timed, by name. A lift plan in which few picks are alike is the dearest to lay out."""
    lifts = ", ".join(f"{1 + pick % 7}+8, {1 + pick * 5 % 6}, {2 + pick % 3}+7" for pick in range(100))
    draft = read_draft("1-8, 7-2", lift_plan=lifts)
    order = read_order(", ".join(f"{1 + at % 9} {'ABCD'[at % 4]}" for at in range(100)))
    return {
        "picture, 2/2 twill": lambda: _png(structure("twill-2-2")),
        "picture, a draft": lambda: _png(draft),
        "its back, a draft": lambda: _png(draft, back=True),
        "floats of the draft": lambda: longest_floats(draft),
        "a row moved in 100": lambda: rows_of(moved(order, (50,), "up")[0]),
    }


def _png(weave: Interlacing, *, back: bool = False) -> bytes:
    picture = cloth_picture(ENDS, PICKS, weave, COLOURS, end_um=1_000, pick_um=1_000, width_px=660, back=back)
    return cloth_png(picture)
