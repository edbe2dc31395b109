"""Taking a backup back. All of it is checked first, and what it replaces is kept as a backup of its own."""

import json
import shutil
import sqlite3
import zlib
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from zipfile import BadZipFile, ZipFile

from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection, connections
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from projects.wording import counted
from stash.archive.form import HEAD as ARCHIVE_HEAD
from stash.archive.form import PHOTO_NAME
from stash.archive.loading import drop_strange_photos
from stash.models import Studio
from stash.services.books import check_books
from stash.services.refusal import Refusal
from stash.site.archive import LAYOUT, in_words, open_studio
from stash.site.backup.keeping import (
    ARCHIVE,
    PHOTO_LIST,
    PHOTOS,
    BackupFailed,
    BadBackup,
    Head,
    read_head,
)
from stash.site.backup.making import KEYS_TO_THE_DOOR, make_backup
from stash.site.folders import backups_folder, photos_folder
from stash.site.lock import FolderLock, Occupied
from stash.site.sqlite import copy_into, live_path, opened, unsoundness

CHUNK = 1 << 20
MOST_LIST = 64_000_000

Say = Callable[[str], object]


@dataclass(slots=True)
class _Ready:
    """A backup that has passed every check, unpacked in a folder that goes again."""

    books: Path
    photos: list[str] = field(default_factory=list)


def restore(path: Path, say: Say, *, with_faults: bool = False) -> None:
    """Put a backup, or an archive, in the place of what the data folder holds, and say step by step what was done.

    Raises Refusal before anything is replaced: a server is at work, the file cannot be taken back, or what is there
    cannot be kept. `with_faults` takes back also books that the book check finds fault with.
    """
    try:
        lock = FolderLock(settings.DATA)
    except Occupied as error:
        raise Refusal(f"{error} Stop it first: nothing was restored.") from error
    try:
        lock.note("restoring a backup")
        with TemporaryDirectory(prefix="warpshelf-") as room:
            _restore(path, Path(room), say, with_faults)
    except (sqlite3.Error, DatabaseError, OSError, EOFError, BadZipFile, zlib.error) as error:
        raise Refusal(f"The restore stopped: {error}") from error
    finally:
        lock.release()


def _restore(path: Path, room: Path, say: Say, with_faults: bool) -> None:
    if not path.is_file():
        raise BadBackup(f"There is no file {path}.")
    if _is_archive(path):
        _restore_archive(path, say)
        return
    head = read_head(path)
    _check_room(path, room)
    ready = _unpack(path, head, room)
    say(f"{path.name} is whole: {_told(head)}.")
    if head.holds == ARCHIVE:
        _restore_archive(ready.books, say)
        return
    if connection.vendor != "sqlite":
        raise BadBackup(
            "This backup holds books on SQLite, and this studio keeps its books elsewhere. Restore it in a folder "
            "without DATABASE_URL, write an archive there with write_archive, and restore that here."
        )
    _check_books_file(ready.books, say, with_faults)
    _keep_what_is_there(say)
    _replace_books(ready.books, say)
    _replace_photos(path, ready.photos)
    say(f"Restored: {_counted()}. Everyone signs in again.")


def _is_archive(path: Path) -> bool:
    try:
        with ZipFile(path) as file:
            return ARCHIVE_HEAD in file.namelist()
    except (BadZipFile, OSError, ValueError, NotImplementedError):
        return False


def _told(head: Head) -> str:
    return f"made {head.made_at[:16].replace('T', ' at ')}, {in_words(head.rows)}"


def _check_room(path: Path, room: Path) -> None:
    """The books unpack here, and what is there is kept meanwhile. A backup that would fill the disk is refused."""
    with ZipFile(path) as file:
        size = sum(one.file_size for one in file.infolist())
    if size > shutil.disk_usage(room).free or 2 * size > shutil.disk_usage(settings.DATA).free:
        raise BadBackup(
            f"{path.name} unpacks to {size // 1_000_000} MB, and the disk has not that much room."
        )


def _unpack(path: Path, head: Head, room: Path) -> _Ready:
    """Every file of the backup against its checksum; the books as a file."""
    with ZipFile(path) as file:
        names = set(file.namelist())
        if len(names) < len(file.infolist()) or not {head.holds, PHOTO_LIST} <= names:
            raise BadBackup(f"{path.name} lacks {head.holds} or {PHOTO_LIST}, or has a file twice.")
        books = room / head.holds
        with file.open(head.holds) as source, books.open("wb") as target:
            if _copied(source, target) != head.sha256:
                raise BadBackup(f"{head.holds} in {path.name} was changed after it was made.")
        photos = _listed_photos(file, path)
        for name, digest in photos.items():
            if PHOTOS + name not in names:
                raise BadBackup(f"The photo {name} is not in {path.name}.")
            with file.open(PHOTOS + name) as source:
                if _copied(source) != digest:
                    raise BadBackup(f"The photo {name} in {path.name} was changed after it was made.")
    return _Ready(books, list(photos))


def _listed_photos(file: ZipFile, path: Path) -> dict[str, str]:
    refusal = BadBackup(f"{PHOTO_LIST} in {path.name} cannot be read.")
    if file.getinfo(PHOTO_LIST).file_size > MOST_LIST:
        raise refusal
    try:
        listed = json.loads(file.read(PHOTO_LIST))
        photos = {one["file"]: one["sha256"] for one in listed}
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise refusal from error
    if not all(type(name) is str and PHOTO_NAME.match(name) for name in photos):
        raise refusal
    return photos


def _copied(source: Any, target: Any = None) -> str:
    """The checksum of what was read, which goes to the target if there is one."""
    digest = sha256()
    while data := source.read(CHUNK):
        digest.update(data)
        if target is not None:
            target.write(data)
    return digest.hexdigest()


def _check_books_file(books: Path, say: Say, with_faults: bool) -> None:
    """Sound, not newer than this program, brought up to it if older, and in agreement with itself."""
    if wrong := unsoundness(books):
        raise BadBackup(f"The books in this backup are not sound: {wrong}.")
    with opened(books) as using:
        loader = MigrationLoader(connections[using])
        ours = {app for app, _ in loader.disk_migrations}
        strange = sorted(
            f"{app}.{name}"
            for app, name in loader.applied_migrations
            if (app, name) not in loader.disk_migrations
            and (app, name) not in _replaced(loader)
            and app in ours
        )
        if strange:
            raise BadBackup(
                f"This backup was made by a newer Warpshelf: {strange[-1]} is not known here. Update Warpshelf first."
            )
        missing = set(loader.disk_migrations) - set(loader.applied_migrations)
        call_command("migrate", database=using, interactive=False, verbosity=0)
        if missing:
            say(
                f"It was made by an older Warpshelf; the copy was brought up to this one ({counted(len(missing), 'step')})."
            )
        if not Studio.objects.using(using).exists():
            raise BadBackup("The books in this backup hold no studio.")
        faults = check_books(using)
    if faults and not with_faults:
        raise BadBackup(
            f"The books in this backup do not agree ({counted(len(faults), 'fault')}): {faults[0].words} "
            "If it is all there is, restore with --with-faults, then see what check_books says."
        )
    say(
        "Its books agree."
        if not faults
        else f"Its books have {counted(len(faults), 'fault')}: {faults[0].words}"
    )


def _replaced(loader: MigrationLoader) -> set[tuple[str, str]]:
    return {old for migration in loader.disk_migrations.values() for old in migration.replaces}


def _keep_what_is_there(say: Say) -> None:
    """A backup of the present books; where they are too damaged for one, their files as they are."""
    if connection.vendor == "sqlite" and not live_path().exists():
        return
    try:
        present = Studio.objects.exists()
        if present:
            kept = make_backup("before a restore")
            say(f"What was here is kept as {kept.path}.")
    except (BackupFailed, DatabaseError, sqlite3.Error) as error:
        connections.close_all()
        if connection.vendor != "sqlite":
            raise Refusal(f"What is here cannot be kept, so nothing was replaced. {error}") from error
        folder = _copy_files_aside()
        say(f"What was here cannot be backed up ({error}); its files are kept in {folder}.")


def _live_files() -> list[Path]:
    path = live_path()
    return [path.with_name(path.name + ending) for ending in ("", "-wal", "-shm")]


def _copy_files_aside() -> Path:
    folder = backups_folder() / f"replaced-{timezone.localtime():%Y-%m-%dT%H-%M-%S}"
    folder.mkdir(mode=0o700, parents=True)
    for path in _live_files():
        if path.exists():
            shutil.copy2(path, folder / path.name)
    return folder


def _replace_books(books: Path, say: Say) -> None:
    """Through SQLite into the live books. A live file that SQLite itself cannot open is taken away first: its copy
    lies aside already."""
    connections.close_all()
    with closing(sqlite3.connect(books)) as source:
        for table in KEYS_TO_THE_DOOR:
            source.execute(f"DELETE FROM {table}")
        source.commit()
        try:
            copy_into(source, live_path())
        except sqlite3.DatabaseError as error:
            if isinstance(error, sqlite3.OperationalError) and "locked" in str(error):
                raise Refusal(
                    "Another program holds the books. Stop it first: nothing was restored."
                ) from error
            for path in _live_files():
                path.unlink(missing_ok=True)
            copy_into(source, live_path())
            say("The damaged file of the books was replaced by a new one.")
    if wrong := unsoundness(live_path()):
        raise Refusal(f"The restored books are not sound: {wrong}. What was here before is kept, see above.")


def _replace_photos(path: Path, names: list[str]) -> None:
    folder = photos_folder()
    folder.mkdir(parents=True, exist_ok=True)
    with ZipFile(path) as file:
        for name in names:
            part = folder / f".{name}.part"
            try:
                with file.open(PHOTOS + name) as source, part.open("wb") as target:
                    shutil.copyfileobj(source, target)
                part.replace(folder / name)
            finally:
                with suppress(OSError):
                    part.unlink()
    drop_strange_photos(folder, LAYOUT)


def _restore_archive(path: Path, say: Say) -> None:
    """In one transaction: emptied, filled, checked."""
    call_command("migrate", interactive=False, verbosity=0)
    _keep_what_is_there(say)
    open_studio(path, replace=True)
    say(f"Restored from the archive: {_counted()}. Everyone signs in again.")


def _counted() -> str:
    rows = {table.name: table.model._base_manager.count() for table in LAYOUT}
    return f"{Studio.objects.get().name}, {in_words(rows)}"
