"""Making a backup: an online copy of the books, checked, with the photos, as one file.

It is written under another name and gets its own when it is whole, so that no half backup is ever taken for one.
"""

import contextlib
import json
import os
import shutil
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from uuid import uuid4
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile

from django.db import DEFAULT_DB_ALIAS, DatabaseError, connection, connections
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from stash.archive.reading import Archive
from stash.archive.writing import write_archive
from stash.models import Studio
from stash.services.books import check_books
from stash.services.refusal import Refusal
from stash.site.archive import LAYOUT, snapshot
from stash.site.backup.keeping import (
    ARCHIVE,
    BOOKS,
    FAULTS_TOLD,
    HEAD,
    PHOTO_LIST,
    PHOTOS,
    Backup,
    BackupFailed,
    Head,
    Kind,
    drop_old_automatic,
    find_backup,
    forget_failure,
    free_name,
    lock_backups,
    note_failure,
)
from stash.site.folders import backups_folder, photos_folder
from stash.site.sqlite import copy_books, opened, unsoundness

CHUNK = 1 << 20
# What lets people in without a password does not lie about in copies.
KEYS_TO_THE_DOOR = ("django_session", "stash_phonecode")


def make_backup(kind: Kind) -> Backup:
    """Raises BackupFailed; the failure is remembered for the pages. Automatic ones beyond the last are taken away."""
    lock = lock_backups()
    try:
        backup = _make(kind)
        forget_failure()
        if kind == "automatic":
            drop_old_automatic()
        return backup
    except BackupFailed as error:
        note_failure(error.message)
        raise
    except (sqlite3.Error, DatabaseError, OSError, EOFError, BadZipFile, zlib.error, Refusal) as error:
        words = f"The backup failed: {error}"
        note_failure(words)
        raise BackupFailed(words) from error
    finally:
        lock.release()


def _make(kind: Kind) -> Backup:
    if not Studio.objects.exists():
        raise BackupFailed("There is no studio yet: nothing to back up.")
    folder, moment = backups_folder(), timezone.now()
    _sweep(folder)
    part = folder / f".{uuid4().hex}.part"
    try:
        with TemporaryDirectory(prefix=".", suffix=".part", dir=folder) as room:
            books, facts = _copy_checked(Path(room))
            with _private(part) as file, ZipFile(file, "w", ZIP_DEFLATED, compresslevel=4) as archive:
                photos = [] if books.name == ARCHIVE else _add_photos(archive)
                archive.write(books, books.name)
                archive.writestr(PHOTO_LIST, json.dumps(photos))
                head = Head(made_at=moment.isoformat(), kind=kind, holds=books.name, **facts)
                archive.writestr(HEAD, head.written())
        _check_written(part, head)
        path = free_name(moment)
        part.rename(path)
        _sync_folder(folder)
    finally:
        part.unlink(missing_ok=True)
    backup = find_backup(path.name)
    if backup is None:
        raise BackupFailed(f"{path.name} was written, but cannot be read.")
    return backup


def _copy_checked(room: Path) -> tuple[Path, dict[str, Any]]:
    """The books as a file, and what is said of them. Raises BackupFailed if the copy is not sound."""
    if connection.vendor == "sqlite":
        books = room / BOOKS
        copy_books(books)
        if wrong := unsoundness(books):
            raise BackupFailed(f"The copy of the books is not sound, so it was not kept: {wrong}.")
        _take_keys_away(books)
        with opened(books) as using:
            facts = _facts(using)
    else:
        books = room / ARCHIVE
        with snapshot() as using:
            with books.open("wb") as file:
                write_archive(file, LAYOUT, photos_folder(), using=using, sign_ins=True)
            facts = _facts(using)
        Archive(books, LAYOUT).close()
    return books, facts | {"sha256": _digest(books)}


def _take_keys_away(books: Path) -> None:
    with closing(sqlite3.connect(books)) as copy:
        copy.execute("PRAGMA secure_delete=ON")
        for table in KEYS_TO_THE_DOOR:
            copy.execute(f"DELETE FROM {table}")
        copy.commit()


def _facts(using: str) -> dict[str, Any]:
    """Counts, faults, and the migrations that made the tables what they are."""
    faults = check_books(using)
    applied = MigrationRecorder(connections[using]).applied_migrations()
    return {
        "rows": {table.name: table.model._base_manager.using(using).count() for table in LAYOUT},
        "faults": [fault.words for fault in faults[:FAULTS_TOLD]],
        "fault_count": len(faults),
        "migrations": sorted(f"{app}.{name}" for app, name in applied),
    }


def _add_photos(archive: ZipFile) -> list[dict[str, Any]]:
    """The files of all photos. They are written once and never changed, so reading them after the books is right;
    one that went meanwhile is left out."""
    listed = []
    for name in LAYOUT.photo_files(DEFAULT_DB_ALIAS):
        path = photos_folder() / name
        with contextlib.suppress(FileNotFoundError):
            archive.write(path, PHOTOS + name, ZIP_STORED)
            listed.append({"file": name, "sha256": _digest(path)})
    return listed


@contextmanager
def _private(path: Path) -> Iterator[Any]:
    """A new file that only its owner reads, on the disk when it is left."""
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        yield file
        file.flush()
        os.fsync(file.fileno())


def _check_written(path: Path, head: Head) -> None:
    """Read it back: every file whole, the books those that were checked."""
    with ZipFile(path) as archive:
        if (damaged := archive.testzip()) is not None:
            raise BackupFailed(f"{damaged} in the backup cannot be read back.")
        digest = sha256()
        with archive.open(head.holds) as file:
            while data := file.read(CHUNK):
                digest.update(data)
    if digest.hexdigest() != head.sha256:
        raise BackupFailed("The backup reads back as something else than was written.")


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        digest = sha256()
        while data := file.read(CHUNK):
            digest.update(data)
    return digest.hexdigest()


def _sync_folder(folder: Path) -> None:
    """So that the new name outlasts a power cut, where the system can be asked for it."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _sweep(folder: Path) -> None:
    """What a backup that was cut short left behind; the lock is held, so none is at work."""
    for path in folder.glob(".*.part"):
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
