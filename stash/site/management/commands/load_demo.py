from typing import Any

from django.core.management.base import BaseCommand, CommandError

from stash.services.refusal import Refusal
from stash.site.demo import load_demo
from stash.site.demo_data import DemoFileError


class Command(BaseCommand):
    help = (
        "Load the invented demo studio into an empty data folder. Safe to repeat: a load that was cut short is "
        "completed, a complete one is left as it is."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            load_demo(self.stdout)
        except Refusal as error:
            raise CommandError(error.message) from error
        except DemoFileError as error:
            raise CommandError(f"The demo cannot be loaded. {error}") from error
