"""XLSX: a zip archive of XML, looked through for harm before it is read as a table.

A small archive can unpack to gigabytes, its table of contents can lie about that, and XML with a document
type can be made to grow without end. So every part is unpacked once in small pieces, counted, and parsed
without keeping anything; only then does openpyxl read it. The same pass finds the formulas.
"""

from __future__ import annotations

import re
import warnings
import zlib
from datetime import date, datetime, time, timedelta
from io import BytesIO
from typing import Any
from xml.parsers import expat
from zipfile import BadZipFile, ZipFile, ZipInfo

from stash.spreadsheets.sheet import (
    MOST_COLUMNS,
    MOST_ROWS,
    Cell,
    Row,
    Sheet,
    SheetError,
    checked,
    letter,
    too_many_rows,
)

MOST_UNPACKED = 60_000_000
MOST_PARTS = 2_000
# Sheets of real shelves pack to a tenth or a thirtieth. The method's own limit is about 1000 to 1.
MOST_RATIO = 200
RATIO_COUNTS_FROM = 1_000_000
LAST_ROW = 1_048_576
_PIECE = 65_536
# What a formula gives that went wrong.
_FAULTS = {"#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A"}
_PLACE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")


def read_workbook(data: bytes) -> Sheet:
    """The first sheet that holds something. Raises SheetError."""
    try:
        with ZipFile(BytesIO(data)) as archive:
            sheets = _looked_through(archive)
    except (
        BadZipFile,
        zlib.error,
        EOFError,
        NotImplementedError,
        RuntimeError,
        ValueError,
        OSError,
    ) as error:
        raise _damaged() from error
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _first_sheet(data, sheets)
    except SheetError:
        raise
    except Exception as error:  # openpyxl raises whatever it stumbles over in a file that is no workbook
        raise _damaged() from error


def _damaged() -> SheetError:
    return SheetError(
        "This file is no XLSX that can be read: it is cut short, damaged, locked by a password, or of another "
        "kind. Save the sheet anew as XLSX or CSV."
    )


def _bomb() -> SheetError:
    return SheetError(
        f"Unpacked, this file would be far larger than a shelf needs (more than {MOST_UNPACKED // 1_000_000} MB, "
        f"or {MOST_RATIO} times its size), so it was not read. Save the sheet alone as CSV."
    )


class _Follower:
    """Follows the elements of one part: where values and formulas of a sheet stand. Keeps no text."""

    def __init__(self) -> None:
        from openpyxl.utils import column_index_from_string

        self.number_of = column_index_from_string
        self.row = self.column = 0
        self.last_row = self.last_column = 0
        self.at: set[tuple[int, int]] = set()

    def parser(self) -> Any:
        parser = expat.ParserCreate()
        parser.StartDoctypeDeclHandler = _refuse_doctype
        parser.StartElementHandler = self.start
        return parser

    def start(self, name: str, attributes: dict[str, str]) -> None:
        kind = name.rpartition(":")[2]
        if kind == "row":
            self.row = _whole(attributes.get("r")) or self.row + 1
            self.column = 0
        elif kind == "c":
            place = _PLACE.fullmatch(attributes.get("r", ""))
            if place:
                self.column, self.row = self.number_of(place[1]), int(place[2])
            else:
                self.column += 1
        elif kind in ("v", "is", "f") and self.row:
            self.last_row = max(self.last_row, self.row)
            self.last_column = max(self.last_column, self.column)
            if kind == "f":
                self.at.add((self.row, self.column - 1))


def _whole(text: str | None) -> int:
    return int(text) if text and text.isdecimal() and len(text) < 10 else 0


def _looked_through(archive: ZipFile) -> dict[str, _Follower]:
    """Every part unpacked once and let go. What stands where, for each part that is XML.

    The table of contents is asked first; then the bytes that really come out are counted, since it may lie.
    """
    parts = archive.infolist()
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
        raise _bomb()
    if any(_too_dense(part.file_size, part) for part in parts):
        raise _bomb()
    if "[Content_Types].xml" not in archive.namelist():
        raise SheetError("This is a packed file, but no XLSX. Save the sheet as XLSX or CSV.")
    followers: dict[str, _Follower] = {}
    total = 0
    for part in parts:
        seen = 0
        parser = None
        with archive.open(part) as packed:
            while piece := packed.read(_PIECE):
                if not seen and _is_xml(piece):
                    followers[part.filename.lstrip("/")] = follower = _Follower()
                    parser = follower.parser()
                seen, total = seen + len(piece), total + len(piece)
                if total > MOST_UNPACKED or _too_dense(seen, part):
                    raise _bomb()
                if parser:
                    try:
                        parser.Parse(piece, False)
                    except expat.ExpatError:
                        # Drawings are often no good XML and are not read. What is read fails later likewise.
                        parser = None
    return followers


def _is_xml(piece: bytes) -> bool:
    return piece[:80].lstrip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n").startswith(b"<")


def _too_dense(unpacked: int, part: ZipInfo) -> bool:
    return unpacked > RATIO_COUNTS_FROM and unpacked > MOST_RATIO * max(part.compress_size, 1)


def _refuse_doctype(*_: Any) -> None:
    raise SheetError(
        "A part of this file declares a document type, which no XLSX needs and which can be made to harm. "
        "It was not read. Save the sheet anew as XLSX or CSV."
    )


def _first_sheet(data: bytes, followers: dict[str, _Follower]) -> Sheet:
    # Here, since it brings a third of a second of further libraries to every start and command.
    from openpyxl import load_workbook

    book = load_workbook(BytesIO(data), read_only=True, data_only=True, keep_links=False)
    try:
        names, others = [], []
        chosen = None
        for sheet in book.worksheets:
            follower = followers.get(sheet._worksheet_path.lstrip("/"), _Follower())
            if chosen is None and follower.last_row and sheet.sheet_state == "visible":
                chosen = (sheet, follower)
                names.append(sheet.title)
            elif follower.last_row:
                others.append(sheet.title)
        if chosen is None:
            raise SheetError(
                "No sheet of this file holds anything that can be seen. A row of headings and at least one "
                "row are needed."
            )
        return _read(*chosen, others)
    finally:
        book.close()


def _read(sheet: Any, follower: _Follower, others: list[str]) -> Sheet:
    if follower.last_column > MOST_COLUMNS:
        raise SheetError(
            f"The sheet reaches to column {letter(follower.last_column - 1)}. At most {MOST_COLUMNS} columns "
            "are taken: delete those that say nothing of the yarn."
        )
    if follower.last_row > LAST_ROW:
        raise _damaged()
    sheet.reset_dimensions()
    rows: list[Row] = []
    lost: set[tuple[int, int]] = set()
    taken = 0
    found = sheet.iter_rows(max_row=follower.last_row, max_col=max(follower.last_column, 1), values_only=True)
    for number, values in enumerate(found, 1):
        if not any(value is not None for value in values) and not follower.at:
            continue
        cells = [_cell(value) for value in values]
        for column, cell in enumerate(cells):
            is_formula = (number, column) in follower.at
            if cell in _FAULTS or (is_formula and cell == ""):
                lost.add((number, column))
                cells[column] = cell or "="
            elif is_formula:
                taken += 1
        if any(cell != "" for cell in cells):
            rows.append(Row(number, tuple(cells)))
        if len(rows) > MOST_ROWS + 1:
            raise too_many_rows()
    notes = [f"Read the sheet “{sheet.title}”."]
    if others:
        notes.append(
            f"Not read: {', '.join(f'“{title}”' for title in others)}. One sheet is taken at a time."
        )
    if taken:
        notes.append(
            f"{taken:,} {'cell holds a formula' if taken == 1 else 'cells hold formulas'}: what was worked out "
            "when the file was last saved is taken."
        )
    return Sheet(checked(rows), tuple(notes), frozenset(lost), taken)


def _cell(value: Any) -> Cell:
    """Text, or a number as the file holds it. Days as 2024-04-03, whatever their look was."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return value if value == value and abs(value) != float("inf") else str(value)
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        return str(value)
    return str(value).strip()
