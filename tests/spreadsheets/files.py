"""Files made for the tests: honest workbooks, and workbooks that mean harm."""

from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile

from openpyxl import Workbook

SHEET = "xl/worksheets/sheet1.xml"
NAMESPACE = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
HEADINGS = ["Yarn", "Shade", "Net (g)"]


def workbook(*rows, title="List", **others):
    """A workbook as openpyxl writes it. `others` are further sheets by name, each a list of rows."""
    book = Workbook()
    sheet = book.active
    sheet.title = title
    for row in rows:
        sheet.append(list(row))
    for name, further in others.items():
        extra = book.create_sheet(name)
        for row in further:
            extra.append(list(row))
    file = BytesIO()
    book.save(file)
    return file.getvalue()


def with_part(data, name, content):
    """The same archive with one part put in the place of another, or added."""
    file = BytesIO()
    with ZipFile(BytesIO(data)) as old, ZipFile(file, "w", ZIP_DEFLATED) as new:
        for part in old.infolist():
            if part.filename != name:
                new.writestr(part.filename, old.read(part))
        new.writestr(name, content)
    return file.getvalue()


def with_sheet(xml, head='<?xml version="1.0" encoding="UTF-8"?>'):
    """A workbook whose sheet holds these elements of XML."""
    content = f"{head}<worksheet {NAMESPACE}><sheetData>{xml}</sheetData></worksheet>"
    return with_part(workbook(HEADINGS), SHEET, content)


def row_xml(number, *cells):
    """`cells` are elements, or texts that become inline strings."""
    written = [
        cell if cell.startswith("<c") else f'<c t="inlineStr"><is><t>{cell}</t></is></c>' for cell in cells
    ]
    return f'<row r="{number}">{"".join(written)}</row>'
