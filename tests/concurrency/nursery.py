"""Servers to be killed: `python -m tests.concurrency.nursery` does what it is told, a word a line, and answers in JSON.

Django is loaded once, and every server is a fork of it: what is served is what `start` serves, a second or two sooner.
"""

from __future__ import annotations

import json
import os
import socket
import sys
from typing import Any

import django

CONES = 4


def found() -> dict[str, Any]:
    """A studio with cones on the shelf and a project that wants some of them."""
    from django.core.management import call_command
    from django.test import Client

    from tests.factories import make_cone, make_project, make_shade, make_yarn

    call_command("migrate", verbosity=0)
    from stash.calc.quantity import read_amount
    from stash.services.studio import found_studio

    owner = found_studio(
        name="Kill bench, invented",
        measuring="metric",
        spelling="british",
        username="mara",
        owner_name="",
        password="ten warps a year",
    )
    shade = make_shade(yarn=make_yarn())
    cones = [
        make_cone(shade, by=owner, scale_mg=550_000, gross=True, core_mg=50_000, lot="A1")
        for _ in range(CONES)
    ]
    project = make_project(shade=shade).pk
    # As `start` does by its checks: what a first request would load is there before anything is served.
    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    for act in ("reserve", "release"):
        assert client.post(f"/projects/{project}/{act}/").status_code == 302
    read_amount("450 g")
    return {"cones": [cone.pk for cone in cones], "project": project}


def serve() -> dict[str, Any]:
    """A server and somebody signed in to it."""
    from django.conf import settings
    from django.db import connections
    from django.test import Client
    from waitress.server import create_server

    from stash.models import Person
    from stash.site.management.commands.start import _options
    from stash.site.wsgi import application

    client = Client()
    client.force_login(Person.objects.get(), backend="django.contrib.auth.backends.ModelBackend")
    session = client.cookies[settings.SESSION_COOKIE_NAME].value
    connections.close_all()  # no connection outlives a fork
    door = socket.create_server(("127.0.0.1", 0), backlog=64)
    pid = os.fork()
    if not pid:
        create_server(application, sockets=[door], **_options()).run()
        os._exit(0)
    port = door.getsockname()[1]
    door.close()
    cookies = {settings.SESSION_COOKIE_NAME: session, settings.CSRF_COOKIE_NAME: "k" * 32}
    return {"pid": pid, "port": port, "cookies": cookies}


def check(pid: int) -> dict[str, Any]:
    """After the server has ended: what is in the books, and whether they agree."""
    from django.db import connection, connections

    from projects.models import Project
    from stash.models import Entry, Reservation
    from stash.services.books import check_books

    _, status = os.waitpid(pid, 0)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        sound = cursor.fetchone()[0]
    found = {
        "signal": os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0,
        "sound": sound,
        "faults": [fault.words for fault in check_books()],
        "weighed": Entry.objects.filter(kind="weighed").count(),
        "reserved": sum(Reservation.objects.values_list("ends", flat=True)),
        "ends": Project.objects.get().ends,
    }
    connections.close_all()
    return found


def main() -> None:
    for line in sys.stdin:
        word, *numbers = line.split()
        answer = {"found": found, "serve": serve, "check": check}[word](*map(int, numbers))
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    django.setup()
    main()
