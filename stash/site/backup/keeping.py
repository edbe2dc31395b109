"""The backups in the data folder: what each is, which may go, and when one last succeeded or failed."""

import json
import re
import zlib
from dataclasses import asdict, dataclass, field
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal
from zipfile import BadZipFile, ZipFile

from django.utils import timezone

from stash.services.refusal import Refusal
from stash.site.folders import backups_folder
from stash.site.lock import FolderLock, Occupied

FORMAT = "warpshelf-backup"
VERSION = 1
HEAD = "backup.json"
BOOKS = "studio.sqlite3"
ARCHIVE = "studio.warpshelf"
PHOTOS = "photos/"
PHOTO_LIST = "photos.json"

KEPT = 14
"""Automatic backups that stay; those that somebody asked for stay until somebody takes them away."""

MOST_HEAD = 1_000_000
FAULTS_TOLD = 20

_NAME = re.compile(r"studio-\d{4}-\d\d-\d\dT\d\d-\d\d-\d\d(-\d{1,2})?\.zip\Z")

Kind = Literal["by hand", "automatic", "before a restore"]
KINDS = ("by hand", "automatic", "before a restore")


class BackupFailed(Refusal):
    """No backup was made; what there was stays."""


class BadBackup(Refusal):
    """The file is no backup that could be taken back."""


@dataclass(frozen=True, slots=True)
class Head:
    """What a backup says of itself. `faults` are those of the books as they were copied; without any it is verified."""

    made_at: str
    kind: str
    holds: str
    sha256: str
    rows: dict[str, int]
    faults: list[str] = field(default_factory=list)
    fault_count: int = 0
    migrations: list[str] = field(default_factory=list)

    def written(self) -> str:
        return json.dumps({"format": FORMAT, "version": VERSION} | asdict(self), ensure_ascii=False, indent=1)


@dataclass(frozen=True, slots=True)
class Backup:
    path: Path
    size: int
    made_at: datetime
    head: Head

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def kind(self) -> str:
        return self.head.kind

    @property
    def is_verified(self) -> bool:
        return not self.head.fault_count


@dataclass(frozen=True, slots=True)
class Failure:
    at: datetime
    words: str


def read_head(path: Path) -> Head:
    """Raises BadBackup."""
    refusal = BadBackup(
        f"{path.name} is no backup, or it was cut short: such a file is a zip that holds {HEAD}."
    )
    try:
        with ZipFile(path) as file:
            if file.getinfo(HEAD).file_size > MOST_HEAD:
                raise refusal
            said = json.loads(file.read(HEAD))
    except (
        BadZipFile,
        KeyError,
        OSError,
        ValueError,
        RecursionError,
        EOFError,
        NotImplementedError,
        zlib.error,
    ) as error:
        raise refusal from error
    except RuntimeError as error:  # it is locked with a password
        raise refusal from error
    if not isinstance(said, dict) or said.pop("format", None) != FORMAT:
        raise refusal
    version = said.pop("version", None)
    if type(version) is int and version > VERSION:
        raise BadBackup(
            f"{path.name} was made by a newer Warpshelf: its form is version {version}, this one knows {VERSION}. "
            "Update Warpshelf first."
        )
    if version != VERSION or not _well_formed(said):
        raise refusal
    return Head(**said)


def _well_formed(said: dict[str, Any]) -> bool:
    kinds = {
        "made_at": str,
        "kind": str,
        "holds": str,
        "sha256": str,
        "rows": dict,
        "faults": list,
        "fault_count": int,
        "migrations": list,
    }
    if {name: type(value) for name, value in said.items()} != kinds:
        return False
    texts = [*said["faults"], *said["migrations"]]
    try:
        moment = datetime.fromisoformat(said["made_at"])
    except ValueError:
        return False
    return (
        moment.tzinfo is not None
        and said["kind"] in KINDS
        and said["holds"] in (BOOKS, ARCHIVE)
        and all(type(text) is str for text in texts)
        and all(type(rows) is int for rows in said["rows"].values())
    )


@lru_cache(maxsize=256)
def _head_of(path: Path, changed: int, size: int) -> Head | None:
    try:
        return read_head(path)
    except BadBackup:
        return None


def all_backups() -> list[Backup]:
    """Those in the data folder that can be read, the newest first."""
    found = []
    folder = backups_folder()
    for path in folder.glob("studio-*.zip") if folder.is_dir() else ():
        try:
            stat = path.stat()
        except OSError:  # taken away meanwhile
            continue
        head = _head_of(path, stat.st_mtime_ns, stat.st_size) if _NAME.match(path.name) else None
        if head is not None:
            found.append(Backup(path, stat.st_size, datetime.fromisoformat(head.made_at), head))
    return sorted(found, key=lambda one: (one.made_at, one.name), reverse=True)


def find_backup(name: str) -> Backup | None:
    """The backup of that name; None for any other text."""
    return next((one for one in all_backups() if one.name == name), None)


def last_good(backups: list[Backup]) -> Backup | None:
    return next((one for one in backups if one.is_verified), None)


def remove_backup(name: str) -> None:
    """Raises Refusal if there is none of that name."""
    found = find_backup(name)
    if found is None:
        raise Refusal("There is no backup of this name any more.")
    found.path.unlink(missing_ok=True)


def drop_old_automatic() -> list[str]:
    """Keep the last automatic ones, and the newest good one however old; the names of those that went."""
    backups = all_backups()
    good = last_good(backups)
    old = [one for one in backups if one.kind == "automatic"][KEPT:]
    gone = [one for one in old if one is not good]
    for one in gone:
        one.path.unlink(missing_ok=True)
    return [one.name for one in gone]


def lock_backups() -> FolderLock:
    """One backup at a time, also where several processes serve one folder. Raises BackupFailed."""
    folder = backups_folder()
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        return FolderLock(folder, "backup.lock")
    except Occupied as error:
        raise BackupFailed("Another backup is being made at this moment. Look again in a minute.") from error
    except OSError as error:
        raise BackupFailed(f"Nothing can be written to {folder} ({error.strerror}).") from error


def free_name(moment: datetime) -> Path:
    """A path that no backup has yet, named by the studio's clock."""
    stem = f"studio-{timezone.localtime(moment):%Y-%m-%dT%H-%M-%S}"
    names = [stem, *(f"{stem}-{number}" for number in range(2, 100))]
    return next(path for name in names if not (path := backups_folder() / f"{name}.zip").exists())


def _failure_path() -> Path:
    return backups_folder() / "last-failure.json"


def note_failure(words: str) -> None:
    """Remember it for the pages; where not even that can be written, the log is all there is."""
    path = _failure_path()
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        path.write_text(json.dumps({"at": timezone.now().isoformat(), "words": words}), encoding="utf-8")
    except OSError:
        pass


def forget_failure() -> None:
    _failure_path().unlink(missing_ok=True)


def last_failure() -> Failure | None:
    """What went wrong at the last attempt; None if that succeeded."""
    try:
        said = json.loads(_failure_path().read_text(encoding="utf-8"))
        return Failure(datetime.fromisoformat(said["at"]), str(said["words"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
