"""Where a proposal is worked out and waits to be accepted (`stash.services.desk`): one at a time for the studio."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from threading import Event, Lock, Thread
from typing import Any, ClassVar

from django.utils import timezone

from stash.services import desk
from stash.services.desk import Kept

HEARTBEAT = 2.0
"""Seconds between the signs of life of a run, which the solver itself may not give for long."""


class Cancelled(Exception):
    """Somebody wants no more of this run."""


@dataclass(frozen=True, slots=True)
class Run(Kept):
    """One proposal: while it is worked out, and a day long after that."""

    ROOM: ClassVar[str] = "proposals"
    SILENT_FOR: ClassVar[float] = 30

    @property
    def begun_at(self) -> datetime:
        return datetime.fromisoformat(self._about()["at"])

    @property
    def state(self) -> str:
        """running, done, failed, cancelled or silent; "" for one that was never begun."""
        told = self.progress()
        return str(told["state"]) if told else ""

    def tell(self, words: str, done: int = 0, total: int = 0) -> None:
        """How far it is. Raises Cancelled where it is not wanted any more."""
        if self._path("cancel").exists():
            raise Cancelled
        self._write("progress", {"state": "running", "words": words, "done": done, "total": total})

    @contextmanager
    def alive(self) -> Iterator[None]:
        """Signs of life meanwhile: a server that is stopped gives no more of them."""
        over = Event()

        def beat() -> None:
            while not over.wait(HEARTBEAT):
                try:
                    os.utime(self._path("progress"))
                except FileNotFoundError:
                    return

        beating = Thread(target=beat, name="proposal alive", daemon=True)
        beating.start()
        try:
            yield
        finally:
            over.set()
            beating.join()

    def succeed(self, proposal: dict[str, Any]) -> None:
        self._write("proposal", proposal)
        self._write("progress", {"state": "done"})

    def fail(self, message: str) -> None:
        self._write("progress", {"state": "failed", "message": message})

    def stop(self) -> None:
        """It was cancelled, and has stopped."""
        self._write("progress", {"state": "cancelled"})

    def cancel(self) -> None:
        """Ask it to stop. One that fell silent stops by this."""
        self._begin("cancel", {"at": timezone.now().isoformat()})
        if self.state == "silent":
            self.stop()

    @property
    def is_cancelled(self) -> bool:
        return self._path("cancel").exists()

    def proposal(self) -> dict[str, Any] | None:
        return self._read("proposal")

    def accepted(self) -> list[int]:
        """Keys of the projects that have been given what is proposed."""
        told = self._read("accepted")
        return told["projects"] if told else []

    def note_accepted(self, projects: list[int]) -> None:
        self._write("accepted", {"projects": sorted({*self.accepted(), *projects})})


_starting = Lock()


def start(*, by_id: int) -> tuple[Run, bool]:
    """A new run that the caller is to do, and True; where one is running, that one, whosever it is, and False."""
    with _starting:
        running = next((run for run in desk.everything(Run) if run.state == "running"), None)
        if running:
            return running, False
        run = desk.put_down(Run, by_id=by_id, at=timezone.now().isoformat())
        run._begin("progress", {"state": "running", "words": "", "done": 0, "total": 0})
        return run, True


def find_run(token: str, *, by_id: int) -> Run | None:
    return desk.find(Run, token, by_id=by_id)


def runs_of(person_id: int) -> list[Run]:
    """What waits for this person, the last first."""
    own = [run for run in desk.everything(Run) if desk.find(Run, run.token, by_id=person_id)]
    return sorted(own, key=lambda run: run.begun_at, reverse=True)


def waiting_run(person_id: int) -> Run | None:
    """The last that is worked out for this person, or waits to be looked at; it asks no database."""
    last = next(iter(runs_of(person_id)), None)
    return last if last and last.state in ("running", "done") and not last.accepted() else None
