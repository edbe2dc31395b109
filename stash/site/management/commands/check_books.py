from typing import Any

from django.core.management.base import BaseCommand, CommandError

from stash.site.checkup import check_all


class Command(BaseCommand):
    help = (
        "Compare balances with the ledger, reservations with cones, and photos with their files, and say in words what "
        "is wrong. Ends with status 1 if something is."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        found = check_all()
        for note in found.notes:
            self.stdout.write(f"To know: {note}")
        for fault in found.faults:
            self.stdout.write(fault.words)
        if found.faults:
            mendable = any(fault.cone_id or fault.line_id for fault in found.faults)
            raise CommandError(
                f"{len(found.faults)} fault{'s' if len(found.faults) > 1 else ''} found."
                + (" `rebuild_balances` sets balances to what the ledger says." if mendable else "")
            )
        self.stdout.write(self.style.SUCCESS("The books agree."))
