"""Backups and archives that are made while others write are whole, and the writers go on."""

from __future__ import annotations

from threading import Barrier, Event, Thread

import pytest
from django.db import connections

from stash.archive.reading import Archive
from stash.models import Entry
from stash.services.reserving import Wanted, release, reserve
from stash.services.weighing import weigh
from stash.site.archive import LAYOUT, write_studio
from stash.site.backup.making import make_backup
from tests.books import assert_books_agree
from tests.factories import ClaimFactory, make_cone

COPIES = 5
MOST_SECONDS = 60


class Writer(Thread):
    """Weighs one cone and reserves of it, again and again, until told to stop.

    The first round is waited for by all: a writer at full speed would keep the others from theirs for long.
    """

    def __init__(self, cone, claim, by, all_write: Barrier) -> None:
        super().__init__()
        self.cone, self.claim, self.by = cone, claim, by
        self.all_write, self.stopped = all_write, Event()
        self.error: Exception | None = None

    def run(self) -> None:
        try:
            number = 0
            while not self.stopped.is_set():
                number += 1
                weigh(
                    cone_id=self.cone, scale_mg=400_000 + number % 7, gross=False, by=self.by, reason="again"
                )
                reserve(claim_id=self.claim, wanted=[Wanted(self.cone, "warp", 2, 10, 100_000)])
                release(claim_id=self.claim)
                if number == 1:
                    self.all_write.wait(MOST_SECONDS)
        except Exception as error:
            self.error = error
            self.all_write.abort()
        finally:
            connections.close_all()


@pytest.fixture
def writers(transactional_db, guarded, owner, settings, tmp_path):
    settings.DATA = tmp_path
    all_write = Barrier(3)
    writers = [Writer(make_cone(by=owner).pk, ClaimFactory().pk, owner, all_write) for _ in range(2)]
    for writer in writers:
        writer.start()
    all_write.wait(MOST_SECONDS)
    yield writers
    for writer in writers:
        writer.stopped.set()
        writer.join(MOST_SECONDS)
        assert writer.error is None
    assert_books_agree()


def test_backups_under_busy_writers_are_whole_and_checked(writers):
    for _ in range(COPIES):
        before = Entry.objects.count()
        backup = make_backup("by hand")
        assert backup.is_verified, backup.head.faults
        assert before <= backup.head.rows["entries"] <= Entry.objects.count()
    assert Entry.objects.count() > 2 * COPIES


def test_archives_under_busy_writers_are_of_one_moment(writers, tmp_path):
    for number in range(COPIES):
        path = tmp_path / f"{number}.warpshelf"
        with path.open("wb") as file:
            rows = write_studio(file)
        with Archive(path, LAYOUT) as archive:
            entries = list(archive.rows(LAYOUT.of_model[Entry]))
        assert rows["entries"] == len(entries)
        changes: dict[int, int] = {}
        for entry in entries:
            changes[entry[1]] = changes.get(entry[1], 0) + entry[3]
            assert entry[4] == changes[entry[1]]
