"""Equipment to take away: all kinds in one table, each with the figures that it has."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from stash.calc.quantity import UNIT_OF_WORD
from stash.models import Board, Loom, Reed, Tool
from stash.models.equipment import Equipment
from stash.spreadsheets.writing import Cell, figure
from stash.tables.exports import ExportTable, Units, local


def _headings(units: Units) -> list[str]:
    short = units.measures.short_unit
    return [
        "kind",
        "name",
        "how many",
        f"weaving width, length or peg to peg ({short})",
        f"height ({short})",
        "shafts",
        "heddles by shaft",
        "dents",
        f"loom waste ({short})",
        f"loom waste, laced on ({short})",
        f"loom waste, tied on ({short})",
        f"longest warp or path ({units.length})",
        f"warp left on it ({units.length})",
        "ends left on it",
        f"holds ({units.mass})",
        f"temple from ({short})",
        f"temple to ({short})",
        "place",
        "lent to",
        "to be back on",
        "note",
        "kept no more since",
    ]


def _short(units: Units, um: int | None) -> Decimal | None:
    return None if um is None else figure(Fraction(um) / UNIT_OF_WORD[units.measures.short_unit].size, 3)


def _long(units: Units, um: int | None) -> Decimal | None:
    return None if um is None else units.of_length(um)


def _rows(units: Units) -> Iterator[Sequence[Cell]]:
    for loom in Loom.objects.select_related("place").prefetch_related("heddles").order_by("pk"):
        yield _row(units, loom, "loom", {
            "width": loom.weaving_width_um, "height": loom.reed_height_um, "shafts": loom.shafts,
            "heddles": ", ".join(str(row.number) for row in loom.heddles.all()),
            "wastes": (loom.waste_um, loom.waste_laced_um, loom.waste_tied_on_um),
            "longest": loom.longest_warp_um, "left": loom.left_um or None, "left_ends": loom.left_ends or None,
        })  # fmt: skip
    for reed in Reed.objects.select_related("place").order_by("pk"):
        dents = units.measures.density(reed.dents, "dents")
        yield _row(units, reed, "reed", {"width": reed.length_um, "height": reed.height_um, "dents": dents})
    for board in Board.objects.select_related("place").order_by("pk"):
        yield _row(
            units, board, board.get_kind_display(), {"width": board.step_um, "longest": board.longest_um}
        )
    for tool in Tool.objects.select_related("place").order_by("pk"):
        temple = (tool.narrowest_um, tool.widest_um)
        yield _row(
            units,
            tool,
            tool.get_kind_display(),
            {"number": tool.number, "holds": tool.holds_mg, "temple": temple},
        )


def _row(units: Units, thing: Equipment, kind: str, figures: dict) -> list[Cell]:
    return [
        kind,
        thing.name,
        figures.get("number", 1),
        _short(units, figures.get("width")),
        _short(units, figures.get("height")),
        figures.get("shafts"),
        figures.get("heddles", ""),
        figures.get("dents", ""),
        *(_short(units, um) for um in figures.get("wastes", (None, None, None))),
        _long(units, figures.get("longest")),
        _long(units, figures.get("left")),
        figures.get("left_ends"),
        units.of_mass(figures.get("holds")),
        *(_short(units, um) for um in figures.get("temple", (None, None))),
        thing.place.name if thing.place else "",
        thing.lent_to,
        thing.back_on,
        thing.note,
        local(thing.retired_at),
    ]


EQUIPMENT_TABLE = ExportTable(
    "equipment", "Equipment", "looms, reeds, boards and tools, also those kept no more", _headings, _rows
)
