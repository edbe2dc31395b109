"""Every table of the studio to take away, as CSV or XLSX. Here, because it knows shelf and projects both."""

from tempfile import TemporaryFile

from django.http import FileResponse, Http404, HttpRequest, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from projects.tables.exports import PROJECT_TABLE
from stash.access import HELPERS_ONLY
from stash.measuring import measures_of
from stash.spreadsheets.writing import csv_pieces, write_xlsx
from stash.tables.buying_export import BUYING_TABLES
from stash.tables.equipment_export import EQUIPMENT_TABLE
from stash.tables.exports import SHELF_TABLES, units_of

TABLES = {table.key: table for table in (*SHELF_TABLES, *BUYING_TABLES, EQUIPMENT_TABLE, PROJECT_TABLE)}
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@HELPERS_ONLY
def export(request: HttpRequest) -> HttpResponseBase:
    return render(request, "site/export.html", {"section": "studio", "tables": TABLES.values()})


@HELPERS_ONLY
@never_cache
@require_safe
def export_table(request: HttpRequest, file: str) -> HttpResponseBase:
    """`cones.csv`, `ledger.xlsx`. CSV is sent while it is read; XLSX must be whole before it is sent."""
    key, _, kind = file.partition(".")
    table = TABLES.get(key)
    if table is None or kind not in ("csv", "xlsx"):
        raise Http404("There is no such table.")
    units = units_of(request.studio, measures_of(request.studio))
    headings, rows = table.headings(units), table.rows(units)
    name = f"{key}-{timezone.localdate().isoformat()}.{kind}"
    if kind == "csv":
        return StreamingHttpResponse(
            csv_pieces(headings, rows),
            content_type="text/csv; charset=utf-8",
            headers={"Content-Disposition": f'attachment; filename="{name}"'},
        )
    book = TemporaryFile()  # noqa: SIM115  the answer closes it when it is sent
    write_xlsx(book, table.title, headings, rows)
    book.seek(0)
    return FileResponse(book, as_attachment=True, filename=name, content_type=XLSX)
