"""One automatic backup a day, while the studio is served."""

import logging
from datetime import timedelta
from threading import Event, Thread

from django.db import connections
from django.utils import timezone

from stash.models import Studio
from stash.site.backup.keeping import Backup, BackupFailed, all_backups, last_failure, note_failure
from stash.site.backup.making import make_backup

FIRST_LOOK = timedelta(seconds=20)
EVERY = timedelta(minutes=10)
AFTER_A_FAILURE = timedelta(hours=1)

log = logging.getLogger(__name__)


def back_up_if_due() -> Backup | None:
    """Today's automatic backup, unless there is one already or the last attempt has just failed.

    Raises BackupFailed.
    """
    today, failure = timezone.localdate(), last_failure()
    made_today = any(
        one.kind == "automatic" and timezone.localdate(one.made_at) == today for one in all_backups()
    )
    just_failed = failure is not None and timedelta() <= timezone.now() - failure.at < AFTER_A_FAILURE
    if made_today or just_failed or not Studio.objects.exists():
        return None
    return make_backup("automatic")


class DailyBackup(Thread):
    """Looks now and then whether today's backup is there. `stop` waits for one that is being made."""

    def __init__(self) -> None:
        super().__init__(name="daily backup", daemon=True)
        self._stopped = Event()

    def run(self) -> None:
        wait = FIRST_LOOK
        while not self._stopped.wait(wait.total_seconds()):
            self.look()
            wait = EVERY

    def look(self) -> None:
        """Whatever goes wrong is logged and told on the pages; the studio goes on."""
        try:
            back_up_if_due()
        except BackupFailed as error:
            log.warning("%s", error.message)
        except Exception as error:
            log.exception("The daily backup failed.")
            note_failure(f"The backup failed: {error}")
        finally:
            connections.close_all()

    def stop(self) -> None:
        self._stopped.set()
        if self.is_alive():
            self.join()
