"""manage.py as a process of its own, and a visitor who calls at the address that it prints."""

import os
import re
import shutil
import subprocess
import sys
from contextlib import contextmanager
from functools import cache
from http.client import HTTPConnection
from http.cookies import SimpleCookie
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import urlencode, urlsplit

from django.conf import settings

# Nothing of the tests' own settings leaks in.
CLEAN = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}


def manage(*arguments, **environment):
    """Run a command to its end."""
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=settings.CODE,
        env=CLEAN | environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@cache
def _empty_books() -> TemporaryDirectory:
    """A data folder with books that hold nothing yet: to make the tables takes longer than most of what is tried."""
    made = TemporaryDirectory(prefix="warpshelf-books-")
    done = manage("migrate", "--verbosity", "0", "--data", made.name)
    assert done.returncode == 0, done.stderr
    return made


def with_empty_books(folder: Path) -> Path:
    """The folder, with books whose tables are made."""
    for name in ("studio.sqlite3", "secret-key"):
        kept = Path(_empty_books().name) / name
        if kept.exists():
            shutil.copy(kept, folder / name)
    return folder


class Server:
    """A running `start`: what it printed until it was ready, and its address."""

    def __init__(self, process):
        self.process = process
        self.lines = []
        for line in process.stdout:
            self.lines.append(line.rstrip("\n"))
            if line.startswith("Ctrl-C"):
                break
        else:
            raise AssertionError(f"It ended before it was ready: {process.stderr.read()}")
        self.address = re.search(r"http://127\.0\.0\.1:\d+/", "\n".join(self.lines))[0]

    def stop(self, number):
        """Ask it to end; the code it ends with, and what it said meanwhile."""
        self.process.send_signal(number)
        said, errors = self.process.communicate(timeout=60)
        return self.process.returncode, said + errors


@contextmanager
def started(*arguments, **environment):
    process = subprocess.Popen(
        [sys.executable, "manage.py", "start", "--port", "0", *arguments],
        cwd=settings.CODE,
        env=CLEAN | environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        yield Server(process)
    finally:
        process.kill()
        process.communicate()


class Visitor:
    """Keeps cookies, sends the form token, follows nothing."""

    def __init__(self, address, **headers):
        self.place = urlsplit(address)
        self.headers = {name.replace("_", "-"): value for name, value in headers.items()}
        self.cookies = {}

    def ask(self, method, path, fields=None, **headers):
        connection = HTTPConnection(self.place.hostname, self.place.port, timeout=60)
        crumbs = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        extra = {name.replace("_", "-"): value for name, value in headers.items()}
        body = urlencode(fields) if isinstance(fields, dict) else fields
        form = {"Content-Type": "application/x-www-form-urlencoded"} if body else {}
        connection.request(method, path, body, {"Cookie": crumbs} | form | self.headers | extra)
        answer = connection.getresponse()
        answer.text = answer.read().decode(errors="replace")
        for line in answer.headers.get_all("Set-Cookie", []):
            for name, crumb in SimpleCookie(line).items():
                self.cookies[name] = crumb.value
        connection.close()
        return answer

    def get(self, path, **headers):
        return self.ask("GET", path, **headers)

    def post(self, path, fields, page, **headers):
        """Fill in the form of a page, as a browser does."""
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', self.get(page, **headers).text)[1]
        return self.ask("POST", path, {"csrfmiddlewaretoken": token} | fields, **headers)
