"""Pages through the whole stack: the WSGI application in this process, signed in, as a browser asks for them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from statistics import median
from time import perf_counter

from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from stash.models import Person

TOKEN = "t" * 32
"""What forms are protected by: any word of this length that cookie and request both say."""


@dataclass(frozen=True, slots=True)
class Timing:
    """The middle of many, in ms, of a page and its floor; `said` is the share of its words that the floor prints."""

    ms: float
    floor_ms: float
    queries: int
    floor_queries: int
    said: float


class Browser:
    """One signed-in person. Every answer is read to its end and closed, as a server does."""

    def __init__(self, person: Person) -> None:
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        name = settings.SESSION_COOKIE_NAME
        self.cookie = f"{name}={client.cookies[name].value}; {settings.CSRF_COOKIE_NAME}={TOKEN}"
        self.application = WSGIHandler()

    def get(self, address: str) -> str:
        """The page as text. Raises AssertionError if it is no page."""
        return self._ask("GET", address, "200")

    def post(self, address: str) -> None:
        """What a button without further fields does. Raises AssertionError if it leads to no page."""
        self._ask("POST", address, "302")

    def _ask(self, method: str, address: str, status: str) -> str:
        path, _, query = address.partition("?")
        environ = {
            "REQUEST_METHOD": method,
            "PATH_INFO": path,
            "QUERY_STRING": query,
            "SCRIPT_NAME": "",
            "SERVER_NAME": "127.0.0.1",
            "SERVER_PORT": "8000",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "REMOTE_ADDR": "127.0.0.1",
            "HTTP_COOKIE": self.cookie,
            "HTTP_X_CSRFTOKEN": TOKEN,
            "CONTENT_TYPE": "application/x-www-form-urlencoded",
            "CONTENT_LENGTH": "0",
            "wsgi.version": (1, 0),
            "wsgi.url_scheme": "http",
            "wsgi.input": BytesIO(),
            "wsgi.errors": BytesIO(),
            "wsgi.multithread": True,
            "wsgi.multiprocess": False,
            "wsgi.run_once": False,
        }
        said: list[str] = []
        answer = self.application(environ, lambda status, headers, exc_info=None: said.append(status))
        body = b"".join(answer)
        answer.close()
        assert said[0].startswith(status), f"{address} answered {said[0]}"
        return body.decode()

    def queries(self, address: str) -> list[str]:
        with CaptureQueriesContext(connection) as caught:
            self.get(address)
        return [query["sql"] for query in caught.captured_queries]


def side_by_side(
    rounds: int, *calls: Callable[[], object], between: Callable[[], object] = lambda: None
) -> list[float]:
    """Median ms of each call. They take turns, so that a busy minute of the machine meets all of them alike.

    `between` is done after each, and not timed.
    """
    for call in calls:
        call()
        call()
    taken: list[list[float]] = [[] for _ in calls]
    for _ in range(rounds):
        for at, call in enumerate(calls):
            start = perf_counter()
            call()
            taken[at].append((perf_counter() - start) * 1000)
            between()
    return [median(times) for times in taken]
