"""The edges and ends of a plan as a floor prints them: of a plan that sets none, as those of the measurement are."""

from __future__ import annotations

from collections.abc import Callable

from stash.calc.plan import Plan
from stash.calc.writing import Measures

ENDS = (
    ("given", "hem cloth as given"),
    ("single", "folded once"),
    ("double", "turned twice, like folds"),
    ("small", "turned twice, first fold small"),
    ("strip", "a plain-weave strip"),
    ("fringe", "a fringe"),
)
DOUBLED = (("heddle", "in heddle and dent"), ("dent", "in the dent only"), ("apart", "in neither"))
WAYS = (("replaces", "instead of an end"), ("added", "in addition to the ends"))
FRINGES = (("plain", "plain"), ("twisted", "twisted"))

Printer = Callable[..., str]


def piece_ends(plan: Plan, measures: Measures, line: Printer, choice: Printer) -> list[str]:
    """What stands in the first group of the form."""
    short, inch = measures.field_short_length, measures.short_unit
    return [
        choice("ends_as", "A piece ends in", list(ENDS), plan.hem.kind),
        line("hem", "Hem cloth, both ends together", short(plan.hem_um), unit=inch, empty=True),
        line("hem_depth", "Depth of the hem, sewn", short(plan.hem.depth_um), unit=inch, empty=True),
        line("hem_fold", "Its first fold", short(plan.hem.fold_um), unit=inch, empty=True),
        line("fringe", "Fringe, finished", "0", unit=inch, empty=True),
        choice("fringe_twisted", "The fringe is", list(FRINGES), "plain", empty=True),
        line(
            "fringe_loss",
            "It loses, of its length on the loom",
            "10",
            unit="%",
            hint="Twisted, 10 to 15 % more than plain.",
            empty=True,
        ),
        line("fringe_knot", "Room to tie an outer one on", "3", unit=inch, empty=True),
        line("waste_front", "Loom waste that lies in front", "9", unit=inch, empty=True),
    ]


def folds(measures: Measures, line: Printer, choice: Printer, radio: Printer) -> list[str]:
    """The three folds that most plans leave alone."""
    per = f"per {measures.density_base}"
    return [
        _fold("Selvedges, borders, accents", "across", "nothing set"),
        _group(
            "Selvedges",
            _tick("floating_selvedges", "A floating end on each side"),
            line("floating_key", "Its key", "", hint="Empty: the shade of the edge beside it.", empty=True),
            line("doubled_ends", "Outermost ends doubled, each side", 0, empty=True),
            choice("doubled_way", "Doubled", list(DOUBLED), "heddle", empty=True),
            _hint(
                "A floating end stands in the reed, in no heddle. An end doubled in heddle and dent takes more yarn only; "
                "in the dent only, more heddles too; in neither, more of all, and the piece comes wider."
            ),
        ),
        _group(
            "Borders and accents",
            line("border_order", "Border at the left, mirrored at the right", "", empty=True),
            line(
                "accents",
                "Accent ends",
                "",
                hint="1 R at 33, 2 S after 60, 1 R in the middle. Places count the ends from the left.",
                empty=True,
            ),
            radio("accent_way", "An accent stands", WAYS, "replaces"),
            _tick("accents_in_weft", "The accents come in the weft too"),
            _hint(
                "An accent instead of an end leaves every other end on its shaft. One that is added moves every later end "
                "on, so that in plain weave the block flips."
            ),
        ),
        "</details>",
        _fold("Hem weft, whole repeats", "weft", "nothing set"),
        _group(
            "Sections along a piece",
            _tick("whole_pick_repeats", "Weave the body in whole repeats"),
            line("hem_picks", "Picks in the hem", "", unit=per, hint="Empty: as in the body.", empty=True),
            line(
                "hem_pick_order",
                "Pick order of the hem",
                "",
                hint="Empty: the body&#x27;s order runs on through it.",
                empty=True,
            ),
            _hint(
                "A hem with picks or an order of its own is counted apart from the body, and the pick order begins anew "
                "in each. Whole repeats of the pick order are rounded up; the length that results is said."
            ),
        ),
        "</details>",
        _fold("Kits of a class, further beams", "several", "one warp, one beam"),
        _group(
            "Like warps",
            line("kit_students", "Kits for students", 0, empty=True),
            line("kit_demo", "Kits to show with", 0, empty=True),
            line("kit_spare", "Kits to spare", 0, empty=True),
            _hint(
                "Each kit is a whole warp of this plan with its weft: every need comes so often. All at 0 is one warp."
            ),
        ),
        _group(
            "Further beams",
            line("beam_2_keys", "Keys wound on beam 2", "", empty=True),
            line("beam_2_take_up", "Its take-up, of the woven length", "", unit="%", empty=True),
            _hint(
                "Shades whose ends take up more or less than the others are wound apart, each beam to a length of its own. "
                "The take-up above is that of beam 1."
            ),
        ),
        "</details>",
    ]


def _fold(summary: str, name: str, words: str) -> str:
    return (
        f'<details class="more"><summary>{summary} <span class="set" id="set-{name}">{words}</span></summary>'
    )


def _group(legend: str, *fields: str) -> str:
    return f'<fieldset class="group"><legend>{legend}</legend>{"".join(fields)}</fieldset>'


def _hint(words: str) -> str:
    return f'<p class="hint">{words}</p>'


def _tick(name: str, label: str) -> str:
    return (
        f'<div class="field tick"><input type="checkbox" name="{name}" id="id_{name}"> <label for="id_{name}">{label}'
        "</label></div>"
    )
