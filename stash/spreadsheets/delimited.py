"""Delimited text (CSV): its encoding and its delimiter are found out, not asked."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator
from io import StringIO

from stash.spreadsheets.harmless import restored
from stash.spreadsheets.sheet import MOST_ROWS, Row, Sheet, SheetError, checked, too_many_rows

_DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs"}
# So many records tell how a file is divided.
_TO_JUDGE_BY = 50
_MOST_IN_A_CELL = 100_000
_CONTROL = re.compile(rb"[\x00-\x08\x0e-\x1f\x7f]")
# Some programs write their delimiter above the table.
_DECLARED = re.compile(r"sep=(.)\r?\n?", re.IGNORECASE)


def read_delimited(data: bytes) -> Sheet:
    """Raises SheetError."""
    text, encoding = _decoded(data)
    declared = _DECLARED.match(text)
    if declared and declared[1] in _DELIMITERS:
        text, delimiter = text[declared.end() :], declared[1]
    else:
        delimiter = _delimiter_of(text)
    notes = [f"Read as text with {_DELIMITERS[delimiter]} between the columns, in {encoding}."]
    rows, lost = [], set()
    for number, record in enumerate(_records(text, delimiter), 1):
        cells = []
        for column, raw in enumerate(record):
            cell = restored(raw.strip())
            if raw.lstrip().startswith("="):
                lost.add((number, column))
            cells.append(cell)
        if any(cells):
            rows.append(Row(number, tuple(cells)))
        if len(rows) > MOST_ROWS + 1:
            raise too_many_rows()
    return Sheet(checked(rows), tuple(notes), frozenset(lost))


def _decoded(data: bytes) -> tuple[str, str]:
    """Text and the name of its encoding."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            text = data.decode("utf-16")
        except UnicodeDecodeError as error:
            raise _unreadable(error) from error
        _refuse_binary(text.encode())
        return text, "UTF-16"
    _refuse_binary(data)
    try:
        return data.decode("utf-8-sig"), "UTF-8"
    except UnicodeDecodeError as error:
        if data.startswith(b"\xef\xbb\xbf"):
            raise _unreadable(error) from error
    try:
        return data.decode("cp1252"), "Windows-1252"
    except UnicodeDecodeError as error:
        raise _unreadable(error) from error


def _refuse_binary(data: bytes) -> None:
    if control := _CONTROL.search(data):
        line = data.count(b"\n", 0, control.start()) + 1
        raise SheetError(
            f"This is no table: line {line} holds the sign number {control[0][0]}, which no text has. Save the "
            "sheet as CSV or XLSX and choose it again."
        )


def _unreadable(error: UnicodeDecodeError) -> SheetError:
    line = error.object.count(b"\n", 0, error.start) + 1
    return SheetError(
        f"Line {line} holds signs that are neither UTF-8 nor Windows-1252. If this is a table, save it as CSV "
        "in UTF-8, or as XLSX."
    )


def _delimiter_of(text: str) -> str:
    """The delimiter that divides most of the first records into the same number of columns, more than one."""
    best, best_score = ",", (0, 0)
    for delimiter in _DELIMITERS:
        widths: Counter[int] = Counter()
        try:
            for number, record in enumerate(_records(text, delimiter)):
                if number == _TO_JUDGE_BY:
                    break
                if any(cell.strip() for cell in record):
                    widths[len(record)] += 1
        except SheetError:
            continue
        divided = [(times, width) for width, times in widths.items() if width > 1]
        score = max(divided, default=(0, 0))
        if score > best_score:
            best, best_score = delimiter, score
    return best


def _records(text: str, delimiter: str) -> Iterator[list[str]]:
    """The records one by one; a fault of the file comes as SheetError with its line."""
    csv.field_size_limit(_MOST_IN_A_CELL)
    reader = csv.reader(StringIO(text, newline=""), delimiter=delimiter, strict=True)
    began = 1
    try:
        for record in reader:
            yield record
            began = reader.line_num + 1
    except csv.Error as error:
        if "unexpected end of data" in str(error):
            words = "A quotation mark that opens there is never closed."
        elif "field larger" in str(error):
            words = f"One cell there is longer than {_MOST_IN_A_CELL:,} signs."
        else:
            words = "After a closing quotation mark there stands something else than the next column."
        raise SheetError(
            f"The row that begins in line {began} cannot be read. {words} Save the sheet anew as CSV or XLSX."
        ) from error
