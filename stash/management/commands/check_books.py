from typing import Any

from django.core.management.base import BaseCommand, CommandError

from stash.services.books import check_books


class Command(BaseCommand):
    help = "Compare balances with the ledger and reservations with cones, and say in words what is wrong."

    def handle(self, *args: Any, **options: Any) -> None:
        faults = check_books()
        for fault in faults:
            self.stdout.write(fault.words)
        if faults:
            mendable = any(fault.cone_id for fault in faults)
            raise CommandError(
                f"{len(faults)} fault{'s' if len(faults) > 1 else ''} found."
                + (" `rebuild_balances` sets balances to what the ledger says." if mendable else "")
            )
        self.stdout.write(self.style.SUCCESS("The books agree."))
