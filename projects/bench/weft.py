"""The weft sheet of a project: blocks to tick off, bobbins to wind, marks on the tape."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from projects.models import ProjectShade
from stash.calc.bobbins import Bobbins, bobbins_for
from stash.calc.colour_order import Item, Repeat
from stash.calc.needs import WorkedPlan
from stash.calc.weft_sheet import Row, SheetSection, TapeMark, sheet_of, tape_marks

MOST_MARKS = 60


@dataclass(frozen=True, slots=True)
class ShadeWeft:
    row: ProjectShade
    picks: int
    """In a piece."""
    tails: int
    """In a piece."""
    bobbins: Bobbins


@dataclass(frozen=True, slots=True)
class WeftSheet:
    sections: Sequence[SheetSection]
    shades: Sequence[ShadeWeft]
    marks: Sequence[TapeMark]
    """Of the first pieces of one warp."""
    open_keys: Sequence[str]
    """Keys of the weft that no shade stands for yet: their bobbins are not known."""

    @property
    def bobbins_per_piece(self) -> int:
        return sum(one.bobbins.per_piece for one in self.shades)

    @property
    def picks(self) -> int:
        return sum(section.picks for section in self.sections)


def make_weft_sheet(worked: WorkedPlan, rows: Mapping[str, ProjectShade], holds_mg: int) -> WeftSheet:
    """Raises CalcError if a bobbin holds nothing."""
    weft, plan = worked.weft, worked.plan
    shades, missing = [], []
    for key, picks in weft.piece.picks.items():
        if key not in rows:
            missing.append(key)
            continue
        tails = weft.piece.tails.get(key, 0)
        length = picks * weft.pick_um + tails * plan.tail_um
        pieces = plan.pieces * plan.warps
        bobbins = bobbins_for(key, length, rows[key].grist, holds_mg, pieces)
        shades.append(ShadeWeft(rows[key], picks, tails, bobbins))
    return WeftSheet(
        sections=sheet_of(weft),
        shades=shades,
        marks=tape_marks(
            min(plan.pieces, MOST_MARKS), worked.length.woven_um, plan.between_um, plan.sample_um
        ),
        open_keys=missing,
    )


def blocks_in_words(row: Row, names: Mapping[str, str]) -> str:
    """8 times (1 Oat, 1 Spruce), 2 Oat."""
    return ", ".join(_item(block.item, names) for block in row.blocks)


def _item(item: Item, names: Mapping[str, str]) -> str:
    if isinstance(item, Repeat):
        return f"{item.times} times ({', '.join(_item(part, names) for part in item.items)})"
    return f"{item.number} {names.get(item.key, item.key)}"
