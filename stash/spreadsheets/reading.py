"""A spreadsheet file, as bytes, to rows of cells: delimited text and XLSX.

What a file is, is told by its first bytes and never by its name.
"""

from __future__ import annotations

from stash.spreadsheets.delimited import read_delimited
from stash.spreadsheets.sheet import MOST_BYTES, Sheet, SheetError
from stash.spreadsheets.workbook import read_workbook

ACCEPTED = "CSV (UTF-8 or Windows-1252; comma, semicolon or tab) or XLSX"

# First bytes of what people take for a table, with what to do about it.
_OTHERS = (
    (b"\xd0\xcf\x11\xe0", "This is an older kind of spreadsheet file (.xls), or one locked by a password."),
    (b"%PDF", "This is a PDF, not a table."),
    (b"{\\rtf", "This is a text document, not a table."),
    (b"<", "This is a web page or another text with marks, not a table."),
    (b"\x89PNG", "This is a picture, not a table."),
    (b"\xff\xd8\xff", "This is a picture, not a table."),
)


def read_sheet(data: bytes) -> Sheet:
    """Raises SheetError, and nothing else, for what is no table or more than is taken."""
    if len(data) > MOST_BYTES:
        raise too_large()
    if not data.strip(b"\x00 \t\r\n\xef\xbb\xbf"):
        raise SheetError("The file is empty. A row of headings and at least one row are needed.")
    for start, words in _OTHERS:
        if data.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(start):
            raise SheetError(f"{words} Save it as CSV or XLSX and choose it again.")
    return read_workbook(data) if data.startswith(b"PK") else read_delimited(data)


def too_large() -> SheetError:
    return SheetError(
        f"The file is larger than {MOST_BYTES // 1_000_000} MB, so it was not read. A shelf of thousands of "
        "cones needs less: save the sheet alone, without pictures, as CSV."
    )
