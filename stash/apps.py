from django.apps import AppConfig
from django.db.models.signals import post_migrate


class StashConfig(AppConfig):
    name = "stash"
    verbose_name = "Shelf"

    def ready(self) -> None:
        from stash.models.guards import install_after_migrate

        post_migrate.connect(install_after_migrate, sender=self, dispatch_uid="stash-ledger-guards")
