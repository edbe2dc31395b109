from typing import Any

from django.core.management.base import BaseCommand

from stash.services.books import rebuild_balances, rebuild_orders


class Command(BaseCommand):
    help = (
        "Set every cone's balances to what its ledger and its reservations add up to, and what came of every order to "
        "the cones taken in for it. Safe to repeat."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        changed = rebuild_balances()
        self.stdout.write(f"{changed} cone{'' if changed == 1 else 's'} changed.")
        if lines := rebuild_orders():
            self.stdout.write(f"{lines} line{'' if lines == 1 else 's'} of orders changed.")
