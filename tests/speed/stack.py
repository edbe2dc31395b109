"""Pages through the whole stack: the WSGI application in this process, signed in, as a browser asks for them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from statistics import median

from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from stash.models import Person
from tests.speed.words import share_said

TOKEN = "t" * 32
"""What forms are protected by: any word of this length that cookie and request both say."""


@dataclass(frozen=True, slots=True)
class Timing:
    """The middle of many, in ms, of a page and its floor; `said` is the share of its words that the floor prints."""

    ms: float
    floor_ms: float
    queries: int = 0
    floor_queries: int = 0
    said: float = 1.0

    def __str__(self) -> str:
        return f"{self.ms:7.1f} ms{self.floor_ms:7.1f} ms{self.ms / self.floor_ms:7.2f}"


class Browser:
    """One signed-in person. Every answer is read to its end and closed, as a server does."""

    def __init__(self, person: Person) -> None:
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        name = settings.SESSION_COOKIE_NAME
        self.cookie = f"{name}={client.cookies[name].value}; {settings.CSRF_COOKIE_NAME}={TOKEN}"
        self.application = WSGIHandler()

    def get(self, address: str) -> str:
        """The page as text, or with `#part` at the end that part of it, as htmx asks. Raises AssertionError if it is
        none."""
        return self._ask("GET", address, "200")

    def post(self, address: str) -> None:
        """What a button without further fields does. Raises AssertionError if it leads to no page."""
        self._ask("POST", address, "302")

    def send(self, address: str, typed: str) -> str:
        """What a form sends while it is being typed into; the parts of the page that change."""
        return self._ask("POST", address, "200", typed.encode())

    def _ask(self, method: str, address: str, status: str, body: bytes = b"") -> str:
        address, _, part = address.partition("#")
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
            "CONTENT_LENGTH": str(len(body)),
            **({"HTTP_HX_REQUEST": "true", "HTTP_HX_TARGET": part} if part else {}),
            "wsgi.version": (1, 0),
            "wsgi.url_scheme": "http",
            "wsgi.input": BytesIO(body),
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


class Watch:
    """Times by the median of so many rounds. Calls that are compared take turns, so that a busy minute of the
    machine meets both alike."""

    def __init__(self, browser: Browser, rounds: int, clock: Callable[[], float]) -> None:
        self.browser, self.rounds, self.clock = browser, rounds, clock

    def call(self, call: Callable[[], object]) -> float:
        """In ms."""
        return self._middles(call)[0]

    def pair(self, call: Callable[[], object], floor: Callable[[], object]) -> Timing:
        """A call and its floor, without any page around them."""
        return Timing(*self._middles(call, floor))

    def pages(self, page: str, floor: str) -> Timing:
        get = self.browser.get
        ms, floor_ms = self._middles(lambda: get(page), lambda: get(floor))
        queries, floor_queries = len(self.browser.queries(page)), len(self.browser.queries(floor))
        return Timing(ms, floor_ms, queries, floor_queries, share_said(get(page), get(floor)))

    def buttons(self, button: str, floor: str) -> Timing:
        """Between the rounds a page shows the message of each, so that none are piled up."""
        calls = (lambda: self.browser.post(button), lambda: self.browser.post(floor))
        ms, floor_ms = self._middles(*calls, between=lambda: self.browser.get("/studio/password/"))
        return Timing(ms, floor_ms)

    def _middles(
        self, *calls: Callable[[], object], between: Callable[[], object] = lambda: None
    ) -> list[float]:
        taken: list[list[float]] = [[] for _ in calls]
        # The first two rounds fill caches.
        for round_ in range(-2, self.rounds):
            for at, call in enumerate(calls):
                start = self.clock()
                call()
                if round_ >= 0:
                    taken[at].append((self.clock() - start) * 1000)
                between()
        return [median(times) for times in taken]
