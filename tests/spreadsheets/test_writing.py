"""Tables to take away: numbers stay numbers, and nothing that people typed runs as a formula."""

import csv
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from io import BytesIO, StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import load_workbook

from stash.spreadsheets.harmless import harmless, restored
from stash.spreadsheets.reading import read_sheet
from stash.spreadsheets.writing import csv_pieces, figure, write_xlsx

HOSTILE = [
    "=1+1",
    '=HYPERLINK("http://elsewhere.example","x")',
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "  =1",
    "＝1",
    "'=1",
    "'''+2",
    "=cmd|' /C calc'!A0",
]
TAME = ["#N/A", "#2f5d50", "Spruce", "8/2", "O'Hara", "'tis", "a=b", "1-2", "", " x", "é"]


def as_csv(headings, rows):
    text = b"".join(csv_pieces(headings, rows)).decode("utf-8-sig")
    return list(csv.reader(StringIO(text, newline="")))


def as_xlsx(headings, rows):
    file = BytesIO()
    write_xlsx(file, "Table", headings, rows)
    return file.getvalue()


@pytest.mark.parametrize("text", HOSTILE)
def test_what_would_run_gets_an_apostrophe_and_loses_it_again(text):
    assert harmless(text) == f"'{text}"
    assert restored(harmless(text)) == text


@pytest.mark.parametrize("text", TAME)
def test_other_text_stays_as_it_is(text):
    assert harmless(text) == restored(text) == text


@given(st.text(alphabet="'=+-@ \tab1", max_size=6))
def test_whatever_was_typed_comes_back(text):
    assert restored(harmless(text)) == text
    assert not harmless(text).lstrip(" ").startswith(("=", "+", "-", "@", "\t"))


def test_a_csv_keeps_numbers_bare_and_days_plain():
    (_, row) = as_csv(
        ["a"] * 7,
        [[1, Decimal("482.5"), Decimal("1E+3"), date(2024, 4, 3), datetime(2024, 4, 3, 9, 5), None, "=1"]],  # noqa: DTZ001
    )
    assert row == ["1", "482.5", "1000", "2024-04-03", "2024-04-03 09:05", "", "'=1"]


def test_a_csv_says_its_encoding_and_quotes_what_needs_it():
    data = b"".join(csv_pieces(["Grün", "b"], [['one, "two"', "three\nfour"]]))
    assert data.startswith(b"\xef\xbb\xbfGr\xc3\xbcn,b\r\n")
    assert read_sheet(data).rows[1].cells == ('one, "two"', "three\nfour")


def test_a_long_csv_comes_in_pieces_and_is_whole():
    pieces = list(csv_pieces(["n"], ([number] for number in range(1_000))))
    assert len(pieces) > 3
    assert b"".join(pieces).decode("utf-8-sig").split() == ["n", *map(str, range(1_000))]


def test_a_workbook_types_text_as_text_and_numbers_as_numbers():
    rows = [[text, Decimal("482.5"), 3, date(2024, 4, 3), None] for text in (*HOSTILE, *TAME)]
    book = load_workbook(BytesIO(as_xlsx(["text", "net (g)", "n", "day", "none"], rows)))
    written = list(book.active.iter_rows(min_row=2))
    for row, text in zip(written, (*HOSTILE, *TAME), strict=True):
        assert row[0].data_type == "s" or not text
        assert (row[0].value or "").strip() == text.strip()
        assert [cell.data_type for cell in row[1:4]] == ["n", "n", "d"]


def test_a_workbook_holds_no_formula_for_our_own_reader_either():
    sheet = read_sheet(as_xlsx(["Yarn", "Shade"], [["=1+1", "+2"]]))
    assert (sheet.rows[1].cells, sheet.lost, sheet.taken) == (("=1+1", "+2"), frozenset(), 0)


def test_signs_that_no_workbook_may_hold_are_dropped():
    assert read_sheet(as_xlsx(["Yarn", "Shade"], [["a\x00b\x0bc", "x" * 40_000]])).rows[1].cells == (
        "abc",
        "x" * 32_767,
    )


@pytest.mark.parametrize(
    ("value", "places", "written"),
    [
        (Fraction(482_500, 1000), 3, "482.5"),
        (Fraction(1000), 3, "1000"),
        (Fraction(1, 3), 3, "0.333"),
        (Fraction(5, 10_000), 3, "0.001"),
        (Fraction(0), 3, "0"),
        (Fraction(10_000_000), 3, "10000000"),
    ],
)
def test_a_figure_is_short_and_rounded_once(value, places, written):
    assert format(figure(value, places), "f") == written
