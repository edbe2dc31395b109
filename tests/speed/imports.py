"""A spreadsheet of cones into the studio as it stands, and the list of all cones out of it again."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from time import perf_counter

ROWS = 10_000
SMALL = 1_000
MOST_SECONDS = 60
HEADINGS = (
    "Yarn,Count,Count system,Shade,Dye lot,Weight with core (g),Core (g),Place,Price,Supplier,Bought,Note"
)


def rates(small: bool = False) -> Iterator[str]:
    """One line for each step, with its seconds; the last says whether all of them kept to a minute."""
    from openpyxl import Workbook

    from stash.measuring import measures_of
    from stash.models import Cone, Person, Studio
    from stash.services.books import check_books
    from stash.services.import_desk import put_down
    from stash.services.importing import rehearse, run_waiting
    from stash.spreadsheets.columns import Reading, guess, table_of
    from stash.spreadsheets.reading import read_sheet
    from stash.spreadsheets.writing import csv_pieces, write_xlsx
    from stash.tables.exports import SHELF_TABLES, units_of

    count = SMALL if small else ROWS
    studio, owner = Studio.objects.get(), Person.objects.filter(role="owner")[0]
    measures = measures_of(studio)
    rows = [row(number) for number in range(count)]

    book = Workbook(write_only=True)
    sheet = book.create_sheet("Cones")
    for line in (HEADINGS.split(","), *rows):
        sheet.append(line)
    file = BytesIO()
    book.save(file)
    start = perf_counter()
    read_sheet(file.getvalue())
    yield told("read as XLSX", count, perf_counter() - start)

    text = "\n".join([HEADINGS, *(",".join(map(str, line)) for line in rows)]).encode()
    begun = start = perf_counter()
    found = read_sheet(text)
    yield told("read as CSV", count, perf_counter() - start)
    reading = Reading.from_data(guess(table_of(found)).as_data() | {"alike": "each"})
    start = perf_counter()
    plan = rehearse(found, reading, studio=studio, measures=measures)
    assert plan.is_ready, [line.problems for line in plan.lines if line.problems][:3]
    waiting = put_down(found, name="speed.csv", by_id=owner.pk)
    waiting.keep_reading(reading)
    waiting.keep_plan(plan.as_data())
    yield told("dry run", count, perf_counter() - start)
    before = Cone.objects.count()
    start = perf_counter()
    waiting.begin()
    run_waiting(waiting, by=owner, digest=plan.digest, studio=studio, measures=measures)
    yield told("brought in", count, perf_counter() - start)
    whole = perf_counter() - begun
    assert waiting.progress()["state"] == "done", waiting.progress()
    assert Cone.objects.count() == before + count
    assert not check_books()
    yield told("file to shelf", count, whole)

    cones, units = SHELF_TABLES[0], units_of(studio, measures)
    start = perf_counter()
    written = sum(map(len, csv_pieces(cones.headings(units), cones.rows(units))))
    yield told(f"taken away as CSV, {written / 1e6:.1f} MB", before + count, perf_counter() - start)
    start = perf_counter()
    write_xlsx(BytesIO(), "Cones", cones.headings(units), cones.rows(units))
    yield told("taken away as XLSX", before + count, perf_counter() - start)
    kept = "kept" if whole < MOST_SECONDS else "NOT KEPT"
    yield f"{count:,} rows from file to shelf in less than {MOST_SECONDS} s: {kept}"


def row(number: int) -> list[str | int | float]:
    """Cones of 20 yarns in 400 shades; lots and places as a studio has them. Invented."""
    return [
        f"Invented {number % 20}",
        "8/2",
        "cotton",
        f"Shade {number % 400}",
        f"L{number % 900}",
        300 + number % 977 + number % 10 / 10,
        32,
        f"Shelf {number % 30}",
        12.5,
        f"Mill {number % 5}",
        f"2023-0{1 + number % 9}-1{number % 9}",
        f"note {number}",
    ]


def told(step: str, count: int, seconds: float) -> str:
    return f"import: {step:34}{count:7,} rows{seconds:8.1f} s{count / seconds:9,.0f} rows/s"
