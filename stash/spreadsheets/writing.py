"""Tables to take away: as CSV, row by row while they are read, and as XLSX.

A cell is text, a number (int or Decimal), a day, a moment, or None for nothing. Numbers stay numbers, with
their unit in the heading; text that a spreadsheet program would run as a formula is made harmless.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from io import StringIO
from typing import IO, TYPE_CHECKING

from stash.spreadsheets.harmless import harmless

if TYPE_CHECKING:
    from openpyxl.cell import WriteOnlyCell

Cell = str | int | Decimal | date | datetime | None

# Rows to a piece that is sent.
_A_PIECE = 200
# Signs that no XML may hold; they say nothing in a table.
_UNWRITABLE = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
MOST_IN_A_CELL = 32_767


def csv_pieces(headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Iterator[bytes]:
    """The table as UTF-8 with its mark, commas and CRLF: RFC 4180."""
    buffer = StringIO()
    writer = csv.writer(buffer)
    writer.writerow([harmless(heading) for heading in headings])
    mark = "\ufeff"
    for number, row in enumerate(rows, 1):
        writer.writerow([_csv_cell(cell) for cell in row])
        if number % _A_PIECE == 0:
            yield (mark + buffer.getvalue()).encode()
            mark = ""
            buffer.seek(0)
            buffer.truncate()
    yield (mark + buffer.getvalue()).encode()


def _csv_cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.strftime("%Y-%m-%d %H:%M")
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, Decimal):
        return format(cell, "f")
    if isinstance(cell, int):
        return str(cell)
    return harmless(cell)


def write_xlsx(file: IO[bytes], title: str, headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """The table as the one sheet of a workbook, written row by row."""
    # Here, since it brings a third of a second of further libraries to every start and command.
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    book = Workbook(write_only=True)
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "A2"

    def typed(value: Cell, *, bold: bool = False) -> WriteOnlyCell | Cell:
        if not isinstance(value, str):
            return value
        value = _UNWRITABLE.sub("", value)[:MOST_IN_A_CELL]
        # By itself the library takes what begins with = for a formula, and #N/A for an error.
        if not bold and not value.startswith(("=", "#")):
            return value
        cell = WriteOnlyCell(sheet, value)
        cell.data_type = "s"
        if bold:
            cell.font = Font(bold=True)
        return cell

    sheet.append([typed(heading, bold=True) for heading in headings])
    for row in rows:
        sheet.append([typed(cell) for cell in row])
    book.save(file)


def figure(value: Fraction, places: int) -> Decimal:
    """A number with at most so many decimals, half up, without end noughts."""
    scaled = value * 10**places
    whole = (2 * scaled.numerator + scaled.denominator) // (2 * scaled.denominator)
    written = Decimal(whole).scaleb(-places)
    return written.quantize(Decimal(1)) if written == written.to_integral_value() else written.normalize()
