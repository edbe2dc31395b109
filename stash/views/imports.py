"""Bringing in a spreadsheet: the file, its columns, the dry run, and all of it or nothing."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from threading import Thread
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.core.paginator import Paginator
from django.db import connections
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from stash.access import OWNERS
from stash.forms.imports import ColumnsForm, RowsForm, SpreadsheetForm, write_row_numbers
from stash.measuring import measures_of
from stash.models import Yarn
from stash.services.import_desk import Waiting, clear_away, find_waiting, put_down
from stash.services.importing import rehearse, remember_reading, remembered_reading, run_waiting
from stash.spreadsheets.columns import Reading, guess, table_of
from stash.spreadsheets.reading import read_sheet, too_large
from stash.spreadsheets.sheet import MOST_BYTES, SheetError
from stash.views.answers import page, posted

ROWS_A_PAGE = 100
EXAMPLE = settings.CODE / "fixtures" / "imports" / "example.csv"


@OWNERS
def import_new(request: HttpRequest) -> HttpResponse:
    """Choose a file. What is read of it waits for the next steps; the file itself is let go."""
    form = SpreadsheetForm(posted(request), request.FILES if request.method == "POST" else None)
    if request.method == "POST":
        try:
            if getattr(request, "upload_too_large", False):
                raise too_large()
            if form.is_valid():
                return _put_down(request, form.cleaned_data["file"])
        except SheetError as error:
            form.errors.clear()
            form.add_error("file", error.message)
    return page(request, "stash/import_new.html", {}, form)


import_new.most_upload = MOST_BYTES  # type: ignore[attr-defined]


def _put_down(request: HttpRequest, file: UploadedFile) -> HttpResponse:
    sheet = read_sheet(file.read(MOST_BYTES + 1))
    table_of(sheet)
    waiting = put_down(sheet, name=file.name, by_id=request.user.pk)
    return redirect("import-columns", waiting.token)


@OWNERS
@require_safe
def import_example(request: HttpRequest) -> HttpResponse:
    return HttpResponse(
        EXAMPLE.read_bytes(),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="warpshelf-example.csv"'},
    )


def _waiting(request: HttpRequest, token: str) -> Waiting:
    waiting = find_waiting(token, by_id=request.user.pk)
    if waiting is None:
        raise Http404("No spreadsheet waits here.")
    return waiting


def _is_taken(waiting: Waiting) -> bool:
    """Its rows are coming in, or are in."""
    told = waiting.progress()
    return told is not None and told["state"] in ("running", "done")


@OWNERS
@never_cache
def import_columns(request: HttpRequest, token: str) -> HttpResponse:
    """Say what each column is. Keeping it makes the dry run."""
    waiting = _waiting(request, token)
    if _is_taken(waiting):
        return redirect("import-progress", token)
    sheet = waiting.sheet()
    if sheet is None:
        raise Http404("No spreadsheet waits here.")
    table = table_of(sheet)
    remembered = remembered_reading(table)
    now = waiting.reading() or remembered or guess(table)
    form = ColumnsForm(
        posted(request),
        table=table,
        now=now,
        measures=measures_of(request.studio),
    )
    if request.method == "POST" and form.is_valid() and form.reading:
        remember_reading(table, form.reading)
        _rehearse(request, waiting, form.reading)
        return redirect("import-rows", token)
    context = {
        "waiting": waiting,
        "table": table,
        "notes": sheet.notes,
        "is_remembered": remembered is not None,
        "rows": len(table.rows),
    }
    return page(request, "stash/import_columns.html", context, form)


def _rehearse(request: HttpRequest, waiting: Waiting, reading: Reading) -> None:
    """Make the dry run anew and keep it with what waits."""
    sheet = waiting.sheet()
    if sheet is None:
        raise Http404("No spreadsheet waits here.")
    measures = measures_of(request.studio)
    waiting.keep_reading(reading)
    waiting.keep_plan(rehearse(sheet, reading, studio=request.studio, measures=measures).as_data())


@OWNERS
@never_cache
def import_rows(request: HttpRequest, token: str) -> HttpResponse:
    """The dry run: every row as it would come in. A post decides what the rows leave open."""
    waiting = _waiting(request, token)
    if _is_taken(waiting):
        return redirect("import-progress", token)
    reading, plan = waiting.reading(), waiting.plan()
    if reading is None or plan is None:
        return redirect("import-columns", token)
    form = RowsForm(
        posted(request),
        initial={"alike": reading.alike, "left_out": write_row_numbers(reading.left_out)},
        alike_rows=plan["alike_rows"] if plan["alike_rows"] or reading.alike else None,
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        changed = replace(reading, alike=said.get("alike", reading.alike), left_out=said["left_out"])
        _rehearse(request, waiting, changed)
        return redirect("import-rows", token)
    return page(request, "stash/import_rows.html", _plan_context(request, waiting, plan), form)


def _plan_context(request: HttpRequest, waiting: Waiting, plan: dict[str, Any]) -> dict[str, Any]:
    lines = plan["lines"]
    state = request.GET.get("only", "")
    if state in plan["counts"]:
        lines = [line for line in lines if line["state"] == state]
    paginator = Paginator(lines, ROWS_A_PAGE)
    shown = paginator.get_page(request.GET.get("page"))
    for line in shown:
        if line["cone"] and line["cone"]["received_on"]:
            line["cone"]["received_on"] = date.fromisoformat(line["cone"]["received_on"])
    shown.pages_to_offer = list(paginator.get_elided_page_range(shown.number, on_each_side=2, on_ends=1))
    return {
        "waiting": waiting,
        "plan": plan,
        "lines": shown,
        "only": state,
        "currency": request.studio.currency,
    }


@OWNERS
@require_POST
def import_leave(request: HttpRequest, token: str) -> HttpResponse:
    """Give up a spreadsheet that waits. Nothing of it was ever in the books."""
    waiting = _waiting(request, token)
    told = waiting.progress()
    if told and told["state"] == "running":
        return redirect("import-progress", token)
    clear_away(waiting)
    messages.success(request, "The spreadsheet is let go. Nothing was brought in.")
    return redirect("import")


@OWNERS
@require_POST
def import_run(request: HttpRequest, token: str) -> HttpResponse:
    """Bring in what the dry run shows, beside this request: its progress has a page."""
    waiting = _waiting(request, token)
    plan = waiting.plan()
    if plan is None or not plan["is_ready"]:
        return redirect("import-rows" if plan else "import-columns", token)
    if waiting.begin():
        studio, person = request.studio, request.user
        digest = request.POST.get("digest", "")
        in_background(
            lambda: run_waiting(
                waiting, by=person, digest=digest, studio=studio, measures=measures_of(studio)
            )
        )
    return redirect("import-progress", token)


def in_background(work: Callable[[], None]) -> None:
    """Run beside the request. If the server stops meanwhile, the transaction is undone as a whole."""

    def run() -> None:
        try:
            work()
        finally:
            connections.close_all()

    Thread(target=run, name="import", daemon=True).start()


@OWNERS
@never_cache
@require_safe
def import_progress(request: HttpRequest, token: str) -> HttpResponse:
    """How far it is, and what came in. Looked at again and again by the page itself; without script by a link."""
    waiting = _waiting(request, token)
    told = waiting.progress()
    if told is None:
        return redirect("import-rows", token)
    context: dict[str, Any] = {"section": "yarn", "waiting": waiting, "told": told}
    if told["state"] == "done":
        context["yarns"] = Yarn.objects.filter(pk__in=told["outcome"]["yarn_ids"][:20])
    whole = not (request.htmx and request.htmx.target == "import-progress")
    return render(request, "stash/import_progress.html" if whole else "stash/_import_progress.html", context)
