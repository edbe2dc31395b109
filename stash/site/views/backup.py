"""Backups and the archive: made, listed, fetched and taken away."""

from io import BytesIO
from tempfile import TemporaryFile
from typing import IO

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.cache import patch_cache_control
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from stash.access import OWNERS
from stash.services.refusal import Refusal
from stash.site.archive import archive_name, write_studio
from stash.site.backup.keeping import KEPT, all_backups, find_backup, last_good, remove_backup
from stash.site.backup.making import make_backup
from stash.site.backup.warning import backup_warning
from stash.site.folders import backups_folder

IN_MEMORY = 8_000_000
"""Bytes."""


@OWNERS
@never_cache
def backup(request: HttpRequest) -> HttpResponse:
    """All backups; a post makes one more."""
    if request.method == "POST":
        return _make(request)
    backups = all_backups()
    context = {
        "section": "studio",
        "backups": backups,
        "good": last_good(backups),
        "warning": backup_warning(request.studio),
        "folder": backups_folder(),
        "kept": KEPT,
    }
    return render(request, "site/backup.html", context)


def _make(request: HttpRequest) -> HttpResponse:
    try:
        made = make_backup("by hand")
    except Refusal as error:
        messages.error(request, error.message)
    else:
        if made.is_verified:
            messages.success(request, f"{made.name} is made and checked: the copy is whole, its books agree.")
        else:
            messages.warning(
                request,
                f"{made.name} is made and whole, but the books do not agree: {made.head.faults[0]} "
                "The command check_books says it all.",
            )
    return redirect("backup")


@OWNERS
@never_cache
@require_safe
def backup_download(request: HttpRequest) -> HttpResponse:
    found = find_backup(request.GET.get("name", ""))
    if found is None:
        messages.error(request, "There is no backup of this name any more.")
        return redirect("backup")
    return _file(found.path.open("rb"), found.name)


@OWNERS
@require_POST
def backup_remove(request: HttpRequest) -> HttpResponse:
    name = request.POST.get("name", "")
    try:
        remove_backup(name)
    except Refusal as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"{name} is gone.")
    return redirect("backup")


@OWNERS
@never_cache
@require_safe
def archive_download(request: HttpRequest) -> HttpResponse:
    """The whole studio as one file, as it is at this moment. A large one is sent from the disk."""
    file = TemporaryFile()  # noqa: SIM115 - whoever sends it closes it
    write_studio(file)
    is_large = file.tell() > IN_MEMORY
    file.seek(0)
    if is_large:
        return _file(file, archive_name())
    with file:
        return _file(BytesIO(file.read()), archive_name())


def _file(file: IO[bytes], name: str) -> HttpResponse:
    answer = FileResponse(file, as_attachment=True, filename=name, content_type="application/zip")
    patch_cache_control(answer, private=True, no_store=True)
    return answer
