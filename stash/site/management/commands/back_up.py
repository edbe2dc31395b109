from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from projects.wording import counted
from stash.site.backup.daily import back_up_if_due
from stash.site.backup.keeping import BackupFailed
from stash.site.backup.making import make_backup


class Command(BaseCommand):
    help = (
        "Copy the books while they are in use, check the copy, and keep it with the photos as one file in the data "
        "folder's backups. `start` does so once a day by itself."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--automatic",
            action="store_true",
            help="for a timer: only if there is none of today, and only the last 14 such backups stay",
        )

    def handle(self, *args: Any, automatic: bool, **options: Any) -> None:
        try:
            backup = back_up_if_due() if automatic else make_backup("by hand")
        except BackupFailed as error:
            raise CommandError(error.message) from error
        if backup is None:
            self.stdout.write("Nothing to do: there is a backup of today, or an attempt has just failed.")
            return
        self.stdout.write(f"{backup.path} ({backup.size / 1_000_000:.1f} MB)")
        if not backup.is_verified:
            raise CommandError(
                f"The copy is whole, but the books do not agree ({counted(backup.head.fault_count, 'fault')}): "
                f"{backup.head.faults[0]} See check_books."
            )
        self.stdout.write(self.style.SUCCESS("Checked: the copy is whole and its books agree."))
