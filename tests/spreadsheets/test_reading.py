"""Files to rows: encodings and delimiters, honest workbooks, and what is refused before it can do harm."""

import struct
from contextlib import suppress
from datetime import date, datetime
from random import Random

import pytest

from stash.spreadsheets import workbook as reader
from stash.spreadsheets.reading import read_sheet
from stash.spreadsheets.sheet import MOST_BYTES, MOST_ROWS, SheetError, letter
from tests.spreadsheets.files import (
    HEADINGS,
    NAMESPACE,
    SHEET,
    row_xml,
    with_part,
    with_sheet,
    workbook,
)


def cells(data):
    return [row.cells for row in read_sheet(data).rows]


def refusal(data):
    with pytest.raises(SheetError) as refused:
        read_sheet(data)
    return refused.value.message


# --- Delimited text -------------------------------------------------------------------------------------
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_delimiter_and_encoding_are_found_out(delimiter, encoding):
    text = f"Yarn{delimiter}Shade\r\nMat cotton{delimiter}Grün\r\n"
    assert cells(text.encode(encoding)) == [("Yarn", "Shade"), ("Mat cotton", "Grün")]


def test_semicolons_with_decimal_commas_are_not_taken_for_more_columns():
    assert cells(b"Yarn;Net;Core\na;482,5;32,5\nb;250,5;32,5\n")[1] == ("a", "482,5", "32,5")


def test_the_notes_say_how_it_was_read():
    sheet = read_sheet("Garn;Ton\na;Grün".encode("cp1252"))
    assert sheet.notes == ("Read as text with semicolons between the columns, in Windows-1252.",)


def test_a_delimiter_declared_above_the_table_is_taken():
    assert cells(b"sep=;\r\nYarn;Net\r\na,b,c;1\r\n") == [("Yarn", "Net"), ("a,b,c", "1")]


def test_blank_rows_and_columns_go_and_numbers_of_rows_stay():
    sheet = read_sheet(b"Yarn,Net,,\n\n,,,\na,1,,\n")
    assert [(row.number, row.cells) for row in sheet.rows] == [(1, ("Yarn", "Net")), (4, ("a", "1"))]


def test_a_cell_may_hold_lines_and_delimiters_in_quotation_marks():
    assert cells(b'Yarn,Note\na,"one, two\nthree ""four"""\n')[1] == ("a", 'one, two\nthree "four"')


def test_an_apostrophe_that_an_export_put_before_a_sign_is_taken_off():
    assert cells(b"Yarn,Note\na,'=1+1\nb,'tis\nc,''=x\n")[1:] == [("a", "=1+1"), ("b", "'tis"), ("c", "'=x")]


def test_a_formula_in_text_is_marked_as_one_without_a_value():
    sheet = read_sheet(b"Yarn,Net\na,=1+1\n'=b,2\n")
    assert sheet.lost == {(2, 1)}


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf \r\n", "empty"),
        (b",,\r\n,,\r\n", "Nothing is written"),
        (bytes(range(256)) * 40, "no table"),
        (b"Yarn,Net\na\x00b,1\n", "line 2"),
        (b"Yarn,Net\n\x81\x8d\x8f,1\n", "Line 2 holds signs"),
        (b"\xef\xbb\xbfYarn\n\xff,1\n", "Line 2 holds signs"),
        ("Yarn\x00,1".encode("utf-16"), "no table"),
        (b"\xff\xfeY\x00\x00\xd8\x00\xd8", "signs that are neither"),
        (b'Yarn,Net\n"never closed,1\n', "never closed"),
        (b'Yarn,Net\n"closed"again,1\n', "begins in line 2"),
        (b"Yarn,Net\n" + b"x" * 100_001 + b",1\n", "longer than 100,000"),
        (b"%PDF-1.7 ...", "PDF"),
        (b"{\\rtf1", "text document"),
        (b"<html><table>", "web page"),
        (b"\x89PNG\r\n", "picture"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "older kind"),
        (b"a," * 61 + b"b\n", "62 columns"),
    ],
)
def test_what_is_no_table_is_refused_with_what_would_be_one(data, words):
    assert words in refusal(data)


def test_twenty_thousand_rows_are_taken_and_no_more():
    rows = b"a,1\n" * MOST_ROWS
    assert len(read_sheet(b"Yarn,Net\n" + rows).rows) == MOST_ROWS + 1
    assert "more than 20,000 rows" in refusal(b"Yarn,Net\n" + rows + b"a,1\n")


def test_more_than_ten_megabytes_are_not_looked_at(monkeypatch):
    monkeypatch.setattr("stash.spreadsheets.reading.read_delimited", lambda data: pytest.fail("was read"))
    assert "larger than 10 MB" in refusal(b"x" * (MOST_BYTES + 1))


# --- Workbooks --------------------------------------------------------------------------------------------
def test_an_honest_workbook_gives_text_numbers_and_days():
    data = workbook(
        ["Yarn", "Net (g)", "Came", "When", "Sound", "Empty"],
        ["Mat cotton", 482.5, date(2024, 4, 3), datetime(2024, 4, 3, 14, 30), True, None],  # noqa: DTZ001
        [None, None, None, None, None, None],
        ["Höhe", 300, "3.4.2024", None, False, " x "],
    )
    sheet = read_sheet(data)
    assert [row.number for row in sheet.rows] == [1, 2, 4]
    assert sheet.rows[1].cells == ("Mat cotton", 482.5, "2024-04-03", "2024-04-03", "yes")
    assert sheet.rows[2].cells == ("Höhe", 300, "3.4.2024", "", "no", "x")


def test_the_first_sheet_that_holds_something_is_read_and_the_others_named():
    data = workbook(title="Blank", Shelf=[HEADINGS, ["a", "b", 1]], Old=[["x"]])
    sheet = read_sheet(data)
    assert sheet.rows[1].cells == ("a", "b", 1)
    assert sheet.notes == ("Read the sheet “Shelf”.", "Not read: “Old”. One sheet is taken at a time.")


def test_the_value_of_a_formula_is_taken_and_said():
    xml = row_xml(1, *HEADINGS) + row_xml(2, "a", "b", '<c r="C2"><f>1+1</f><v>2</v></c>')
    sheet = read_sheet(with_sheet(xml))
    assert sheet.rows[1].cells == ("a", "b", 2)
    assert (sheet.taken, sheet.lost) == (1, frozenset())
    assert any("1 cell holds a formula" in note for note in sheet.notes)


def test_a_formula_without_its_value_is_marked_where_it_stands():
    sheet = read_sheet(workbook(HEADINGS, ["a", "b", "=1+1"], ["=A1", "=B1", "=C1"]))
    assert sheet.lost == {(2, 2), (3, 0), (3, 1), (3, 2)}
    assert sheet.rows[2].cells == ("=", "=", "=")


def test_formulas_are_found_whatever_the_prefix_and_without_places():
    xml = (
        f'<?xml version="1.0"?><x:worksheet xmlns:x={NAMESPACE.split("=", 1)[1]}><x:sheetData>'
        '<x:row><x:c t="str"><x:v>Yarn</x:v></x:c><x:c t="str"><x:v>Net</x:v></x:c></x:row>'
        "<x:row><x:c><x:v>1</x:v></x:c><x:c><x:f>A2</x:f></x:c></x:row></x:sheetData></x:worksheet>"
    )
    assert read_sheet(with_part(workbook(HEADINGS), SHEET, xml)).lost == {(2, 1)}


def test_what_a_formula_gives_that_went_wrong_is_no_word():
    xml = row_xml(1, *HEADINGS) + row_xml(2, '<c t="e"><f>1/0</f><v>#DIV/0!</v></c>', "b", "1")
    assert read_sheet(with_sheet(xml)).lost == {(2, 0)}


def test_a_workbook_cut_short_anywhere_is_refused():
    data = workbook(HEADINGS, ["a", "b", 1])
    for part in range(4, len(data) - 1, 97):
        assert "no XLSX that can be read" in refusal(data[:part])


def test_a_workbook_with_a_byte_changed_is_read_or_refused_but_never_an_error():
    data = bytearray(workbook(HEADINGS, ["a", "b", 1]))
    for at in range(0, len(data), 131):
        changed = data[:]
        changed[at] ^= 0xFF
        with suppress(SheetError):
            read_sheet(bytes(changed))


def test_other_archives_are_no_workbooks():
    assert "no XLSX" in refusal(b"PK\x05\x06" + bytes(18))
    assert "no XLSX" in refusal(with_part(b"PK\x05\x06" + bytes(18), "a.txt", "hello"))
    data = with_part(b"PK\x05\x06" + bytes(18), "[Content_Types].xml", "<Types/>")
    assert "no XLSX that can be read" in refusal(data)


def test_no_visible_sheet_with_anything_is_refused():
    assert "No sheet of this file holds anything" in refusal(workbook())


# --- Harm -------------------------------------------------------------------------------------------------
def test_a_bomb_is_refused_by_what_its_table_of_contents_says():
    """A sheet of 80 MB of spaces packs to 80 kB."""
    data = with_sheet(" " * 80_000_000)
    assert len(data) < 200_000
    assert "far larger than a shelf needs" in refusal(data)


def test_many_parts_that_are_each_small_enough_are_a_bomb_together():
    """Seven parts of 10 MB that pack to a twentieth: none is too dense, their sum is too much."""
    data, chance = workbook(HEADINGS), Random(7)
    part = b"".join(chance.randbytes(30) + bytes(970) for _ in range(10_000))
    for number in range(7):
        data = with_part(data, f"xl/media/{number}.bin", part)
    assert len(data) < MOST_BYTES
    assert "far larger" in refusal(data)


def test_a_bomb_that_lies_about_its_size_is_stopped_while_it_unpacks():
    """The sizes in the table of contents are set to 1,000: what comes out is cut there and fails its sum."""
    name = SHEET.encode()
    data = bytearray(with_sheet(" " * 80_000_000))
    at = 0
    while (at := data.find(name, at)) != -1:
        if data[at - 46 : at - 42] == b"PK\x01\x02":
            data[at - 46 + 24 : at - 46 + 28] = struct.pack("<I", 1_000)
        at += 1
    assert "no XLSX that can be read" in refusal(bytes(data))


def test_bytes_are_counted_as_they_come(monkeypatch):
    """Also where the table of contents is believed: the count itself stops it."""
    monkeypatch.setattr(reader, "MOST_UNPACKED", 1_000)
    monkeypatch.setattr(reader, "sum", lambda sizes: 0, raising=False)
    assert "far larger" in refusal(workbook(HEADINGS, ["a", "b", 1]))


def test_too_many_parts_are_refused(monkeypatch):
    monkeypatch.setattr(reader, "MOST_PARTS", 3)
    assert "far larger" in refusal(workbook(HEADINGS))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
@pytest.mark.parametrize("part", [SHEET, "xl/workbook.xml", "docProps/core.xml", "xl/hidden.dat"])
def test_a_document_type_is_refused_in_every_part(part, encoding):
    """Ten entities of ten entities each: the classic way to grow a page to gigabytes."""
    entities = '<!ENTITY a0 "lol">' + "".join(
        f'<!ENTITY a{level} "{f"&a{level - 1};" * 10}">' for level in range(1, 10)
    )
    xml = f'<?xml version="1.0" encoding="{encoding}"?><!DOCTYPE w [{entities}]><w>&a9;</w>'
    assert "document type" in refusal(with_part(workbook(HEADINGS), part, xml.encode(encoding)))


def test_an_entity_of_a_file_is_refused():
    xml = '<?xml version="1.0"?><!DOCTYPE w [<!ENTITY f SYSTEM "file:///etc/hostname">]><w>&f;</w>'
    assert "document type" in refusal(with_part(workbook(HEADINGS), SHEET, xml))


def test_a_row_with_an_absurd_number_keeps_nobody_busy():
    assert "no XLSX that can be read" in refusal(
        with_sheet(row_xml(1, *HEADINGS) + row_xml(999_999_999, "a", "b", "1"))
    )
    xml = row_xml(1, *HEADINGS) + '<row r="9999999999999999"><c r="A2"><v>1</v></c></row>'
    with suppress(SheetError):
        read_sheet(with_sheet(xml))


def test_a_far_column_is_refused_by_its_letters():
    xml = row_xml(1, *HEADINGS) + '<row r="2"><c r="XFD2"><v>1</v></c></row>'
    assert "reaches to column XFD" in refusal(with_sheet(xml))


def test_far_styled_but_empty_cells_do_no_harm():
    xml = row_xml(1, *HEADINGS) + '<row r="1048576"><c r="XFD1048576" s="0"/></row>'
    assert len(read_sheet(with_sheet(xml)).rows) == 1


def test_too_many_rows_of_a_workbook_are_refused(monkeypatch):
    monkeypatch.setattr(reader, "MOST_ROWS", 3)
    rows = [["a", "b", number] for number in range(4)]
    assert len(read_sheet(workbook(HEADINGS, *rows[:3])).rows) == 4
    assert "rows" in refusal(workbook(HEADINGS, *rows))


def test_columns_are_lettered_as_spreadsheet_programs_do():
    assert [letter(at) for at in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
