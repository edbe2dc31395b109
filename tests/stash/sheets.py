"""Spreadsheets for the tests of importing."""

from django.conf import settings

from stash.calc.writing import Measures
from stash.models import Studio
from stash.services.import_desk import Waiting, put_down
from stash.services.importing import column_names, import_rows, rehearse, words_of
from stash.spreadsheets.columns import Reading, guess, table_of
from stash.spreadsheets.reading import read_sheet
from stash.spreadsheets.rows import understand
from stash.spreadsheets.sheet import Sheet

IMPORTS = settings.CODE / "fixtures" / "imports"
HEADINGS = "Code,Yarn,Count,System,Shade,Lot,Net (g),Core (g),Place,Price,Supplier,Bought,Note"


def sheet_of(*rows: str, headings: str = HEADINGS) -> Sheet:
    return read_sheet("\n".join([headings, *rows]).encode())


def reading_of(sheet: Sheet, **answers) -> Reading:
    reading = guess(table_of(sheet))
    return Reading.from_data(reading.as_data() | answers)


def plan_of(sheet: Sheet, **answers):
    """The dry run."""
    return rehearse(sheet, reading_of(sheet, **answers), studio=Studio.objects.get(), measures=Measures())


def bring(sheet: Sheet, by, digest=None, progress=lambda done, total: None, **answers):
    """Dry run and all of it in; `digest` of another dry run if told."""
    plan = plan_of(sheet, **answers)
    table, reading = table_of(sheet), reading_of(sheet, **answers)
    return import_rows(
        understand(table, reading, words_of(Studio.objects.get(), Measures()), sheet.lost),
        columns=column_names(table, reading),
        alike=reading.alike,
        digest=plan.digest if digest is None else digest,
        by=by,
        source="list.csv",
        progress=progress,
    )


def waiting_of(sheet: Sheet, by, **answers) -> Waiting:
    waiting = put_down(sheet, name="list.csv", by_id=by.pk)
    waiting.keep_reading(reading_of(sheet, **answers))
    waiting.keep_plan(plan_of(sheet, **answers).as_data())
    return waiting


def states(plan) -> list[tuple[int, str]]:
    return [(line.row, line.state) for line in plan.lines]
