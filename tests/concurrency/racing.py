"""Threads that start together, each with a connection of its own."""

from collections.abc import Callable, Sequence
from threading import Barrier, Thread
from typing import Any

from django.db import connections

MOST_SECONDS = 60


def race(calls: Sequence[Callable[[], Any]]) -> list[Any]:
    """Run all calls at once; what each returned or raised, in their order."""
    results: list[Any] = [None] * len(calls)
    start = Barrier(len(calls), timeout=MOST_SECONDS)

    def run(place: int) -> None:
        try:
            start.wait()
            results[place] = calls[place]()
        except Exception as error:
            results[place] = error
        finally:
            connections.close_all()

    threads = [Thread(target=run, args=(place,)) for place in range(len(calls))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(MOST_SECONDS)
        assert not thread.is_alive(), "a thread still waits: a deadlock, or a lock that was never let go"
    return results


def sorted_out(
    results: Sequence[Any], refusal: type[Exception] | tuple[type[Exception], ...]
) -> tuple[int, int]:
    """How many were served and how many refused. Anything else that was raised is an error of ours."""
    strange = [one for one in results if isinstance(one, Exception) and not isinstance(one, refusal)]
    assert not strange, strange
    refused = sum(isinstance(one, refusal) for one in results)
    return len(results) - refused, refused
