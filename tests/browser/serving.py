"""The site served to a browser from within the tests, and a way to know that it has come to rest."""

import threading
import time
from typing import Any

from django.core.handlers.wsgi import WSGIHandler
from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
from django.core.signals import request_finished, request_started

REST_S = 0.05
LONGEST_S = 20


class _Silent(WSGIRequestHandler):
    def log_message(self, *_: Any) -> None:
        """Nothing: the tests say what they see."""


class Server:
    """Serves until it is stopped. `url` has no slash at its end."""

    def __init__(self) -> None:
        self._count = 0
        self._lock = threading.Lock()
        request_started.connect(self._begun)
        request_finished.connect(self._ended)
        self._http = ThreadedWSGIServer(("localhost", 0), _Silent, allow_reuse_address=False)
        self._http.set_app(WSGIHandler())
        self.url = f"http://localhost:{self._http.server_port}"
        self._thread = threading.Thread(target=self._http.serve_forever, kwargs={"poll_interval": 0.05})
        self._thread.start()

    def stop(self) -> None:
        self._http.shutdown()
        self._http.server_close()
        self._thread.join()
        request_started.disconnect(self._begun)
        request_finished.disconnect(self._ended)

    def wait_until_idle(self) -> None:
        """Return when no request has been in flight for a moment: a flush under one would be locked out."""
        deadline = time.monotonic() + LONGEST_S
        idle_since = time.monotonic()
        while time.monotonic() - idle_since < REST_S:
            if self._count:
                idle_since = time.monotonic()
            if time.monotonic() > deadline:
                raise TimeoutError(f"{self._count} requests are still in flight after {LONGEST_S} s.")
            time.sleep(0.005)

    def _begun(self, **_: Any) -> None:
        with self._lock:
            self._count += 1

    def _ended(self, **_: Any) -> None:
        with self._lock:
            self._count -= 1
