"""The secret key is made once, whoever comes first."""

import stat
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.core.exceptions import ImproperlyConfigured

from stash.site.secret import LENGTH, secret_key

RACERS = 20


def test_twenty_threads_that_start_at_once_get_one_key(tmp_path):
    for attempt in range(10):
        folder = tmp_path / str(attempt)
        folder.mkdir()
        gate = Barrier(RACERS)

        def start(folder=folder, gate=gate):
            gate.wait()
            return secret_key(folder)

        with ThreadPoolExecutor(RACERS) as pool:
            keys = {future.result() for future in [pool.submit(start) for _ in range(RACERS)]}
        assert len(keys) == 1


def test_processes_that_start_at_once_get_one_key(tmp_path):
    script = (
        "from pathlib import Path; from stash.site.secret import secret_key;"
        f"print(secret_key(Path({str(tmp_path)!r})))"
    )
    racers = [
        subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, text=True) for _ in range(6)
    ]
    keys = {racer.communicate(timeout=60)[0] for racer in racers}
    assert len(keys) == 1
    assert len(keys.pop().strip()) == LENGTH


def test_only_its_owner_can_read_it(tmp_path):
    secret_key(tmp_path)
    assert stat.S_IMODE((tmp_path / "secret-key").stat().st_mode) == 0o600


def test_a_key_cut_short_is_refused_with_the_way_out(tmp_path):
    (tmp_path / "secret-key").write_text("too short")
    with pytest.raises(ImproperlyConfigured, match="Remove the file"):
        secret_key(tmp_path)
