"""One run: how long it may take, who is told, and whether the solver can be had."""

from __future__ import annotations

from collections.abc import Callable
from threading import Event
from time import monotonic

from stash.calc.allot.allotment import Progress, Stop


class Run:
    """`over` once the deadline has come or `told` raised Stop; other threads may read it."""

    def __init__(
        self, deadline_s: float, told: Callable[[Progress], None] | None, fallback: str = ""
    ) -> None:
        self._until = monotonic() + deadline_s
        self._question_s = deadline_s / 8
        self._told = told
        self._stopped = Event()
        self.cut_short = False
        """Something was left out because it was over."""
        self.fallback = fallback
        """Why no solver is used, as a sentence; "" while one is."""

    @property
    def left_s(self) -> float:
        return 0.0 if self._stopped.is_set() else max(0.0, self._until - monotonic())

    @property
    def question_s(self) -> float:
        """For one question whose answer is to be proven: where shelf and needs come out even to a few mg it may be hard
        to say whether there is a way, and the others must not wait for that."""
        return min(self.left_s, self._question_s)

    @property
    def over(self) -> bool:
        return self.left_s <= 0

    def tell(self, progress: Progress) -> None:
        if self._told is not None and not self._stopped.is_set():
            try:
                self._told(progress)
            except Stop:
                self._stopped.set()
