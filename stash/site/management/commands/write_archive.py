from argparse import ArgumentParser
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from stash.models import Studio
from stash.site.archive import archive_name, in_words, write_studio


class Command(BaseCommand):
    help = (
        "Write the whole studio to one file that another Warpshelf opens: all but passwords. The same studio gives the "
        "same bytes. `stash/archive/schema.md` says how it is written."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "file", type=Path, nargs="?", help="default: the studio's name and the day, .warpshelf"
        )

    def handle(self, *args: Any, file: Path | None, **options: Any) -> None:
        if not Studio.objects.exists():
            raise CommandError("There is no studio yet: nothing to write.")
        file = file or Path(archive_name())
        if file.exists():
            raise CommandError(f"{file} is there already. Name another file.")
        part = file.with_name(f".{uuid4().hex}.part")
        try:
            with part.open("xb") as target:
                rows = write_studio(target)
            part.rename(file)
        except (OSError, DatabaseError) as error:
            raise CommandError(f"{file} cannot be written: {error}") from error
        finally:
            part.unlink(missing_ok=True)
        self.stdout.write(f"{file}: {in_words(rows)}.")
