from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from stash.services.refusal import Refusal
from stash.site.backup.restoring import restore


class Command(BaseCommand):
    help = (
        "Put a backup, or an archive, in the place of what the data folder holds. It is checked first, and what it "
        "replaces is kept as a backup of its own. Stop the server before."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="a backup (.zip) or an archive (.warpshelf)")
        parser.add_argument(
            "--with-faults", action="store_true", help="also if check_books finds fault with the books in it"
        )

    def handle(self, *args: Any, file: Path, with_faults: bool, **options: Any) -> None:
        try:
            restore(file, self.stdout.write, with_faults=with_faults)
        except Refusal as error:
            raise CommandError(error.message) from error
