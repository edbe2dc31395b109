"""Where long work waits between pages: a folder of its own for each piece, beside the books.

A folder has a random name, is readable by the server's own user alone, is found by the person who put it down, and
goes after a day. Progress is told here too: what a long transaction writes into the books is seen by nobody before
it ends.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar, TypeVar

from django.conf import settings

KEPT_FOR = 24 * 60 * 60
_TOKEN = re.compile(r"[A-Za-z0-9_-]{22}")


@dataclass(frozen=True, slots=True)
class Kept:
    """One piece of work, by the token in its address. A kind of its own stands in a room of its own."""

    token: str

    ROOM: ClassVar[str]
    SILENT_FOR: ClassVar[float]
    """Seconds: a run tells its progress far more often than this; after it, it stands."""

    @classmethod
    def room(cls) -> Path:
        return Path(settings.DATA) / "media" / cls.ROOM

    @property
    def folder(self) -> Path:
        return self.room() / self.token

    @property
    def owner_id(self) -> int:
        return int(self._about()["by"])

    def progress(self) -> dict[str, Any] | None:
        """What the run last told; None before there is one. `state` is what it said, or `silent` for one that said
        nothing more."""
        told = self._read("progress")
        if told and told["state"] == "running" and time.time() - self._told_at() > self.SILENT_FOR:
            return told | {"state": "silent"}
        return told

    def clear_away(self) -> None:
        shutil.rmtree(self.folder, ignore_errors=True)

    # --- Files -------------------------------------------------------------------------------------------
    def _about(self) -> dict[str, Any]:
        about = self._read("about")
        if about is None:
            raise LookupError("half put down")
        return about

    def _told_at(self) -> float:
        try:
            return self._path("progress").stat().st_mtime
        except FileNotFoundError:
            return 0

    def _path(self, part: str) -> Path:
        return self.folder / f"{part}.json"

    def _read(self, part: str) -> dict[str, Any] | None:
        try:
            return json.loads(self._path(part).read_text(encoding="utf-8")) or None
        except (FileNotFoundError, ValueError):
            return None

    def _begin(self, part: str, data: dict[str, Any]) -> bool:
        """Write what nobody has written; False if somebody has."""
        try:
            descriptor = os.open(self._path(part), os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        except FileExistsError:
            return False
        with os.fdopen(descriptor, "w", encoding="utf-8") as file:
            json.dump(data, file, ensure_ascii=False)
        return True

    def _write(self, part: str, data: dict[str, Any]) -> None:
        """Whole or not at all: a page that looks meanwhile sees the old or the new."""
        beside = self.folder / f"{part}.{secrets.token_hex(4)}.new"
        descriptor = os.open(beside, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as file:
            json.dump(data, file, ensure_ascii=False)
        beside.replace(self._path(part))

    def _drop(self, part: str) -> None:
        self._path(part).unlink(missing_ok=True)


Kind = TypeVar("Kind", bound=Kept)


def put_down(kind: type[Kind], *, by_id: int, **about: Any) -> Kind:
    """A new piece of work for its owner. What waited in this room longer than a day goes."""
    sweep(kind)
    kept = kind(secrets.token_urlsafe(16))
    kind.room().mkdir(parents=True, exist_ok=True)
    kept.folder.mkdir(mode=0o700)
    kept._write("about", about | {"by": by_id})
    return kept


def find(kind: type[Kind], token: str, *, by_id: int) -> Kind | None:
    """What waits under this token for this person; None for anything else, also for what is too old."""
    kept = kind(token)
    if not _TOKEN.fullmatch(token) or not kept.folder.is_dir() or _is_old(kept.folder):
        return None
    try:
        return kept if kept.owner_id == by_id else None
    except LookupError:
        return None


def everything(kind: type[Kind]) -> Iterator[Kind]:
    """All that is kept in this room, of everybody, what is half put down among it."""
    for kept in kind.room().iterdir() if kind.room().is_dir() else ():
        if _TOKEN.fullmatch(kept.name):
            yield kind(kept.name)


def sweep(kind: type[Kept]) -> None:
    """Remove what waited longer than a day."""
    for kept in everything(kind):
        if _is_old(kept.folder):
            kept.clear_away()


def _is_old(folder: Path) -> bool:
    """By when it was put down: files written since do not renew it. What is being put down or taken away in
    this moment has no such file."""
    for path in (folder / "about.json", folder):
        try:
            return time.time() - path.stat().st_mtime > KEPT_FOR
        except FileNotFoundError:
            continue
    return True
