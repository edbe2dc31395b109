"""Where a spreadsheet waits between its upload and its rows coming in (`stash.services.desk`).

What waits is not the file that was sent, but what was read of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, ClassVar

from stash.services import desk
from stash.services.desk import KEPT_FOR, Kept
from stash.spreadsheets.columns import Reading
from stash.spreadsheets.sheet import Sheet

__all__ = [
    "KEPT_FOR",
    "SILENT_FOR",
    "Waiting",
    "clear_away",
    "desk_folder",
    "find_waiting",
    "put_down",
]

# A run tells its progress at every round of cones, far more often than this; after it, it stands.
SILENT_FOR = 180


def desk_folder() -> Path:
    return Waiting.room()


@dataclass(frozen=True, slots=True)
class Waiting(Kept):
    """One spreadsheet that waits, by the token in its address."""

    ROOM: ClassVar[str] = "imports"
    SILENT_FOR: ClassVar[float] = SILENT_FOR

    @property
    def name(self) -> str:
        """The name the file had where it came from, for people to recognise."""
        return str(self._about()["name"])

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
        return self._begin("progress", {"state": "running", "done": 0, "total": 0})

    def tell(self, done: int, total: int) -> None:
        self._write("progress", {"state": "running", "done": done, "total": total})

    def succeed(self, outcome: dict[str, Any]) -> None:
        self._write("progress", {"state": "done", "outcome": outcome})
        for part in ("sheet", "plan", "reading"):
            self._drop(part)

    def fail(self, message: str) -> None:
        self._write("progress", {"state": "failed", "message": message})


def put_down(sheet: Sheet, *, name: str, by_id: int) -> Waiting:
    """Let a sheet wait for its owner. What waited longer than a day goes."""
    waiting = desk.put_down(Waiting, by_id=by_id, name=name[:120])
    waiting._write("sheet", sheet.as_data())
    return waiting


def find_waiting(token: str, *, by_id: int) -> Waiting | None:
    """What waits under this token for this person; None for anything else, also for what is too old."""
    return desk.find(Waiting, token, by_id=by_id)


def clear_away(waiting: Waiting) -> None:
    waiting.clear_away()
