"""A spreadsheet as it was read: rows of plain cells, and what had to be decided on the way."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

Cell = str | int | float

MOST_BYTES = 10_000_000
MOST_ROWS = 20_000
MOST_COLUMNS = 60


class SheetError(Exception):
    """A file that cannot be taken. `message` is shown to people as it is."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


@dataclass(frozen=True, slots=True)
class Row:
    """One row that holds something; `number` as a spreadsheet program counts, from 1."""

    number: int
    cells: tuple[Cell, ...]

    def __getitem__(self, column: int) -> Cell:
        return self.cells[column] if column < len(self.cells) else ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """Rows without the blank ones. Text is stripped; a figure that the file itself marks as one is a number;
    a date is text as 2024-04-03.

    `lost` are places (row number, column from 0) of formulas whose value the file does not hold; `taken` is
    how many formulas were taken by the value that it does hold. `notes` are sentences for people.
    """

    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()
    lost: frozenset[tuple[int, int]] = field(default_factory=frozenset)
    taken: int = 0

    @property
    def width(self) -> int:
        return max((len(row.cells) for row in self.rows), default=0)

    def as_data(self) -> dict[str, Any]:
        """Plain lists and dicts, for a file of our own."""
        return {
            "rows": [[row.number, list(row.cells)] for row in self.rows],
            "notes": list(self.notes),
            "lost": sorted(map(list, self.lost)),
            "taken": self.taken,
        }

    @classmethod
    def from_data(cls, data: dict[str, Any]) -> Sheet:
        return cls(
            tuple(Row(number, tuple(cells)) for number, cells in data["rows"]),
            tuple(data["notes"]),
            frozenset((row, column) for row, column in data["lost"]),
            data["taken"],
        )


def checked(rows: list[Row]) -> tuple[Row, ...]:
    """Rows without blank ends and without blank rows. Raises SheetError where there are too many or none."""
    kept = []
    for row in rows:
        cells = row.cells
        while cells and cells[-1] == "":
            cells = cells[:-1]
        if len(cells) > MOST_COLUMNS:
            raise SheetError(
                f"Row {row.number} has {len(cells):,} columns. At most {MOST_COLUMNS} are taken: delete those "
                "that say nothing of the yarn."
            )
        if cells:
            kept.append(Row(row.number, cells))
    if len(kept) > MOST_ROWS + 1:
        raise too_many_rows()
    if not kept:
        raise SheetError(
            "Nothing is written in this file. A row of headings and at least one row are needed."
        )
    return tuple(kept)


def too_many_rows() -> SheetError:
    return SheetError(f"The file has more than {MOST_ROWS:,} rows. Bring it in as several smaller files.")


def letter(column: int) -> str:
    """The letters by which a spreadsheet program names a column counted from 0: A, Z, AA."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters
