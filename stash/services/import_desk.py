"""Where a spreadsheet waits between its upload and its rows coming in: a folder of its own for each.

What waits is not the file that was sent, but what was read of it. A folder has a random name, is readable by
the server's own user alone, and goes after a day. Progress is told here too, beside the books: what a long
transaction writes into them is seen by nobody before it ends.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings

from stash.spreadsheets.columns import Reading
from stash.spreadsheets.sheet import Sheet

KEPT_FOR = 24 * 60 * 60
# A run tells its progress at every round of cones, far more often than this; after it, it stands.
SILENT_FOR = 180
_TOKEN = re.compile(r"[A-Za-z0-9_-]{22}")


def desk_folder() -> Path:
    return Path(settings.DATA) / "media" / "imports"


@dataclass(frozen=True, slots=True)
class Waiting:
    """One spreadsheet that waits, by the token in its address."""

    token: str

    @property
    def folder(self) -> Path:
        return desk_folder() / self.token

    @property
    def name(self) -> str:
        """The name the file had where it came from, for people to recognise."""
        return str(self._read("about")["name"])

    @property
    def owner_id(self) -> int:
        return int(self._read("about")["by"])

    def sheet(self) -> Sheet | None:
        """What was read of it; None once its rows are in."""
        data = self._read("sheet")
        return Sheet.from_data(data) if data else None

    def reading(self) -> Reading | None:
        data = self._read("reading")
        return Reading.from_data(data) if data else None

    def keep_reading(self, reading: Reading) -> None:
        self._write("reading", reading.as_data())
        self._drop("plan")

    def plan(self) -> dict[str, Any] | None:
        return self._read("plan")

    def keep_plan(self, plan: dict[str, Any]) -> None:
        self._write("plan", plan)

    # --- Running -----------------------------------------------------------------------------------------
    def begin(self) -> bool:
        """Take the run for oneself; False when it is running or done. One that failed or fell silent may begin
        anew: whatever became of it, the ledger's keys let no row in twice."""
        state = self.progress()
        if state and state["state"] in ("failed", "silent"):
            self._drop("progress")
        try:
            descriptor = os.open(self._path("progress"), os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        except FileExistsError:
            return False
        with os.fdopen(descriptor, "w") as file:
            json.dump({"state": "running", "done": 0, "total": 0}, file)
        return True

    def tell(self, done: int, total: int) -> None:
        self._write("progress", {"state": "running", "done": done, "total": total})

    def succeed(self, outcome: dict[str, Any]) -> None:
        self._write("progress", {"state": "done", "outcome": outcome})
        for part in ("sheet", "plan", "reading"):
            self._drop(part)

    def fail(self, message: str) -> None:
        self._write("progress", {"state": "failed", "message": message})

    def progress(self) -> dict[str, Any] | None:
        """What the run last told; None before there is one. `state` is running, done, failed or silent."""
        told = self._read("progress")
        if told and told["state"] == "running" and time.time() - self._told_at() > SILENT_FOR:
            return told | {"state": "silent"}
        return told

    def _told_at(self) -> float:
        try:
            return self._path("progress").stat().st_mtime
        except FileNotFoundError:
            return 0

    # --- Files -------------------------------------------------------------------------------------------
    def _path(self, part: str) -> Path:
        return self.folder / f"{part}.json"

    def _read(self, part: str) -> dict[str, Any] | None:
        try:
            return json.loads(self._path(part).read_text(encoding="utf-8")) or None
        except (FileNotFoundError, ValueError):
            return None

    def _write(self, part: str, data: dict[str, Any]) -> None:
        """Whole or not at all: a page that looks meanwhile sees the old or the new."""
        beside = self.folder / f"{part}.{secrets.token_hex(4)}.new"
        descriptor = os.open(beside, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as file:
            json.dump(data, file, ensure_ascii=False)
        beside.replace(self._path(part))

    def _drop(self, part: str) -> None:
        self._path(part).unlink(missing_ok=True)


def put_down(sheet: Sheet, *, name: str, by_id: int) -> Waiting:
    """Let a sheet wait for its owner. What waited longer than a day goes."""
    sweep()
    waiting = Waiting(secrets.token_urlsafe(16))
    desk_folder().mkdir(parents=True, exist_ok=True)
    waiting.folder.mkdir(mode=0o700)
    waiting._write("about", {"name": name[:120], "by": by_id})
    waiting._write("sheet", sheet.as_data())
    return waiting


def find_waiting(token: str, *, by_id: int) -> Waiting | None:
    """What waits under this token for this person; None for anything else, also for what is too old."""
    waiting = Waiting(token)
    if not _TOKEN.fullmatch(token) or not waiting.folder.is_dir() or _is_old(waiting.folder):
        return None
    try:
        return waiting if waiting.owner_id == by_id else None
    except TypeError:  # half put down
        return None


def clear_away(waiting: Waiting) -> None:
    shutil.rmtree(waiting.folder, ignore_errors=True)


def sweep() -> None:
    """Remove what waited longer than a day."""
    folder = desk_folder()
    for kept in folder.iterdir() if folder.is_dir() else ():
        if _TOKEN.fullmatch(kept.name) and _is_old(kept):
            shutil.rmtree(kept, ignore_errors=True)


def _is_old(folder: Path) -> bool:
    """By when it was put down: files written since do not renew it. What is being put down or taken away in
    this moment has no such file."""
    for path in (folder / "about.json", folder):
        try:
            return time.time() - path.stat().st_mtime > KEPT_FOR
        except FileNotFoundError:
            continue
    return True
