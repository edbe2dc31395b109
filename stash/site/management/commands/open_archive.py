from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from stash.models import Person, Role
from stash.services.refusal import Refusal
from stash.site.archive import in_words, open_studio


class Command(BaseCommand):
    help = (
        "Open an archive in an empty data folder. All of it is checked before anything is written. Passwords are not in "
        "an archive: set one for its owner afterwards."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="an archive (.warpshelf)")

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        call_command("migrate", interactive=False, verbosity=0)
        try:
            if not file.is_file():
                raise Refusal(f"There is no file {file}.")
            rows = open_studio(file)
        except Refusal as error:
            raise CommandError(error.message) from error
        self.stdout.write(f"Opened: {in_words(rows)}.")
        owner = Person.objects.filter(role=Role.OWNER, is_active=True).order_by("pk").first()
        self.stdout.write(
            f"Nobody can sign in yet: set a password with `manage.py changepassword {owner.username}`, the others' on "
            "the Studio page."
        )
