"""A program that is killed in the middle of writing leaves books that agree."""

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest
from django.db import connection

from stash.models import Entry, Reservation
from tests.books import assert_books_agree
from tests.factories import ClaimFactory, PersonFactory, make_cone

KILLS = 10
MOST_SECONDS_TO_LIVE = 0.15


def database_url() -> str:
    database = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{database['NAME']}"
    return "postgres://{USER}:{PASSWORD}@{HOST}:{PORT}/{NAME}".format(**database)


@pytest.mark.once
@pytest.mark.django_db(transaction=True)
def test_after_each_of_ten_kills_the_books_agree():
    """What a kill cannot show is a power cut: for that `synchronous` is FULL, by reason, not by test."""
    by = PersonFactory(username="stock")
    cone, claim = make_cone(grams=500, by=by), ClaimFactory()
    command = [sys.executable, "-m", "tests.concurrency.writer", str(cone.pk), str(claim.pk), str(by.pk)]
    environment = os.environ | {"DATABASE_URL": database_url()}
    chance = random.Random(7)
    for _ in range(KILLS):
        before = Entry.objects.count()
        with subprocess.Popen(
            command, env=environment, cwd=Path(__file__).parents[2], stdout=subprocess.PIPE, text=True
        ) as writer:
            assert writer.stdout.readline() == "writing\n"
            time.sleep(chance.uniform(0, MOST_SECONDS_TO_LIVE))
            writer.kill()
        assert writer.returncode == -9
        assert Entry.objects.count() > before
        assert Reservation.objects.count() in (0, 2)
        assert_books_agree()
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA integrity_check")
                assert cursor.fetchone() == ("ok",)
