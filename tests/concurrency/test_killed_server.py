"""A server that is killed in the middle of writing leaves books that are whole, and forgets nothing that it answered."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from http.client import HTTPConnection, HTTPException
from threading import Lock, Thread
from typing import Any
from urllib.parse import urlencode

import pytest
from django.conf import settings

from tests.site.processes import CLEAN, Visitor, manage, started

KILLS = 50
WRITERS = 3
MOST_SECONDS_TO_LIVE = 0.3


class Nursery:
    """See `tests.concurrency.nursery`."""

    def __init__(self, folder) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.concurrency.nursery"],
            cwd=settings.CODE,
            env=CLEAN | {"WARPSHELF_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "stash.site.settings"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def tell(self, *words: object) -> dict[str, Any]:
        self.process.stdin.write(" ".join(map(str, words)) + "\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())

    def close(self) -> None:
        self.process.stdin.close()
        self.process.wait(60)
        self.process.stdout.close()


class Writers:
    """People at several windows who weigh, reserve and release until the server is gone."""

    def __init__(self, world: dict[str, Any], server: dict[str, Any], chance: random.Random) -> None:
        self.world, self.server = world, server
        self.lock = Lock()
        self.sent = self.weighed = self.answered = self.cut = 0
        self.strange: list[int] = []
        seeds = [chance.random() for _ in range(WRITERS)]
        self.threads = [Thread(target=self.write, args=[random.Random(seed)]) for seed in seeds]
        for thread in self.threads:
            thread.start()

    def write(self, chance: random.Random) -> None:
        while True:
            project = f"/projects/{self.world['project']}"
            weighs = chance.random() < 0.6
            if weighs:
                path = f"/yarn/cones/{chance.choice(self.world['cones'])}/"
                fields = {"scale": f"{chance.randint(400, 550)} g", "how": "gross", "reason": "again"}
            else:
                path, fields = f"{project}/{chance.choice(['reserve', 'release'])}/", {}
            with self.lock:
                self.sent += weighs
            try:
                status = self.post(path, fields)
            except (OSError, HTTPException):
                with self.lock:
                    self.cut += 1
                return
            with self.lock:
                self.answered += 1
                self.weighed += weighs and status == 302
                if status != 302:
                    self.strange.append(status)

    def post(self, path: str, fields: dict[str, str]) -> int:
        connection = HTTPConnection("127.0.0.1", self.server["port"], timeout=30)
        cookies = self.server["cookies"]
        token = next(value for name, value in cookies.items() if "csrf" in name)
        try:
            connection.request(
                "POST",
                path,
                urlencode({"csrfmiddlewaretoken": token} | fields),
                {
                    "Content-Type": "application/x-www-form-urlencoded",
                    "Cookie": "; ".join(f"{name}={value}" for name, value in cookies.items()),
                },
            )
            answer = connection.getresponse()
            answer.read()
            return answer.status
        finally:
            connection.close()

    def join(self) -> None:
        for thread in self.threads:
            thread.join(60)
            assert not thread.is_alive()


@pytest.fixture
def nursery(tmp_path):
    nursery = Nursery(tmp_path)
    yield nursery
    nursery.close()


@pytest.mark.once
def test_the_books_are_whole_after_each_of_fifty_kills_and_what_was_answered_is_in_them(nursery, tmp_path):
    """What a kill cannot show is a power cut: for that `synchronous` is FULL, by reason, not by test."""
    chance = random.Random(1804)
    world = nursery.tell("found")
    weighed = cut = answered = 0
    for _ in range(KILLS):
        server = nursery.tell("serve")
        writers = Writers(world, server, chance)
        while not writers.answered and not writers.cut:
            time.sleep(0.005)
        time.sleep(chance.uniform(0, MOST_SECONDS_TO_LIVE))
        os.kill(server["pid"], signal.SIGKILL)
        books = nursery.tell("check", server["pid"])
        writers.join()
        assert writers.strange == []
        assert books["signal"] == signal.SIGKILL
        assert books["sound"] == "ok"
        assert books["faults"] == []
        # A reservation is there as a whole or not at all.
        assert books["reserved"] == 0 or books["reserved"] >= books["ends"] > 0
        # Nothing that was answered is lost; what was under way may have come in.
        assert weighed + writers.weighed <= books["weighed"] <= weighed + writers.sent
        weighed, cut, answered = books["weighed"], cut + writers.cut, answered + writers.answered
    assert cut >= KILLS, "every kill met somebody who was writing"
    assert answered > 2 * KILLS and weighed > KILLS
    checked = manage("check_books", "--data", str(tmp_path))
    assert (checked.returncode, checked.stdout.strip()) == (0, "The books agree.")
    with started("--data", str(tmp_path)) as server:
        assert Visitor(server.address).get("/sign-in/").status == 200
