"""What stands in a project file: names, order and kind of every value. The schema beside the code is compared with it.

The file is read without trust: whatever is not named here, or is of another kind, is refused by its place.
"""

from dataclasses import dataclass
from typing import Literal

from projects.models import AccentWay, DoubledWay, Dressing, HemKind, Project, SleyKeeps
from projects.models.project import MOST_KITS
from stash.calc.beams import MOST_BEAMS
from stash.models import FibreShare, Shade, Yarn

FORMAT = "warpshelf-project"
VERSION = 1
SCHEMA = "projects/project-file.md"
SUFFIX = ".warpshelf-project.json"
MOST_BYTES = 200_000
MOST_SHADES = 60
MOST_WHOLE = 10**15
"""No whole number in a file is larger, either way: lengths are far smaller."""

Kind = Literal[
    "whole", "flag", "text", "lines", "word", "share", "shares", "density", "density or null", "grist"
]


@dataclass(frozen=True, slots=True)
class Value:
    """A value under its name. `at` is where the plan, or the project, has it; `most` bounds texts and whole numbers."""

    name: str
    kind: Kind
    at: str = ""
    most: int = MOST_WHOLE
    words: tuple[str, ...] = ()
    least: int = 0

    @property
    def where(self) -> str:
        return self.at or self.name


def _longest(model: type, name: str) -> int:
    return int(model._meta.get_field(name).max_length)  # type: ignore[attr-defined]


def _text(name: str, kind: Kind = "text", at: str = "") -> Value:
    return Value(name, kind, at, _longest(Project, at or name))


def _order(name: str) -> Value:
    return Value(name, "text", "", _longest(Project, "colour_order"))


HEAD = (
    _text("name"),
    _text("pieces_are", at="piece_name"),
    _text("note", "lines"),
    _text("structure"),
)
"""Of the project itself."""

DRAFT = (_text("threading"), _text("tie_up"), _text("treadling"), _text("lift_plan"))

PLAN = (
    Value("pieces", "whole"),
    Value("across_um", "whole"),
    Value("along_um", "whole"),
    Value("losses_across", "shares"),
    Value("losses_along", "shares"),
    Value("take_up", "share"),
    Value("waste_um", "whole"),
    Value("waste_front_um", "whole"),
    Value("sett", "density"),
    Value("picks", "density"),
    _order("order"),
    Value("order_fills", "flag"),
    Value("balance_ends", "whole"),
    _order("border"),
    Value("accents", "text", "", _longest(Project, "accents")),
    Value("accent_way", "word", words=tuple(AccentWay.values)),
    Value("accents_in_weft", "flag"),
    Value("floating_selvedges", "flag", "selvedges.floating"),
    Value("floating_key", "text", "selvedges.floating_key", 2),
    Value("doubled_ends", "whole", "selvedges.doubled_ends"),
    Value("doubled_way", "word", "selvedges.doubled_way", words=tuple(DoubledWay.values)),
    _order("pick_order"),
    Value("whole_pick_repeats", "flag"),
    Value("hem_kind", "word", "hem.kind", words=tuple(HemKind.values)),
    Value("hem_um", "whole"),
    Value("hem_depth_um", "whole", "hem.depth_um"),
    Value("hem_fold_um", "whole", "hem.fold_um"),
    Value("hem_picks", "density or null", "hem.picks"),
    Value("hem_pick_order", "text", "hem.pick_order", _longest(Project, "hem_pick_order")),
    Value("fringe_um", "whole", "fringe.finished_um"),
    Value("fringe_loss", "share", "fringe.loss"),
    Value("fringe_twisted", "flag", "fringe.twisted"),
    Value("fringe_knot_um", "whole", "fringe.knot_um"),
    Value("gap_um", "whole"),
    Value("sample_um", "whole"),
    Value("header_um", "whole"),
    Value("weft_take_up", "share"),
    Value("tail_um", "whole"),
    Value("carry_picks", "whole"),
    Value("warp_buffer", "share"),
    Value("weft_buffer", "share"),
    Value("board_um", "whole"),
    Value("keep_back", "whole"),
)
"""As `calc.plan.Plan` has them."""

KITS = (
    Value("students", "whole", most=MOST_KITS),
    Value("demo", "whole", most=MOST_KITS),
    Value("spare", "whole", most=MOST_KITS),
)

LOOM = (
    Value("dressing", "word", words=tuple(Dressing.values)),
    _text("sley"),
    Value("sley_keeps", "word", words=tuple(SleyKeeps.values)),
    Value("at_once", "whole", least=1, most=24),
)
"""How it goes on a loom; which loom, reed and board is the other studio's own business."""

BEAM = (Value("number", "whole", least=2, most=MOST_BEAMS), Value("take_up", "share"))
"""And `keys`, a list of the keys wound on it."""

SHADE = (
    Value("key", "text", "", 2),
    Value("name", "text", "", _longest(Shade, "name")),
    Value("colour", "text", "", 7),
)
"""And `yarn`."""

YARN = (
    Value("name", "text", "", _longest(Yarn, "name")),
    Value("count", "text", "", 40),
    Value("grist", "grist"),
)
"""And `fibres`."""

FIBRE = (
    Value("name", "text", "", _longest(FibreShare, "fibre")),
    Value("percent", "whole", least=1, most=100),
)

GROUPS = {"draft": DRAFT, "plan": PLAN, "kits": KITS, "loom": LOOM}
LISTS = ("beams", "shades")
TOP = ("format", "version", *(value.name for value in HEAD), *GROUPS, *LISTS)
"""Every name at the top of a file, in order."""
