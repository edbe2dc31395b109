from typing import Any

from django.core.management.base import BaseCommand

from projects.models import Project
from projects.services.planning import recompute


class Command(BaseCommand):
    help = "Work every stored plan out anew, after the arithmetic has changed. Safe to repeat."

    def handle(self, *args: Any, **options: Any) -> None:
        for project in Project.objects.order_by("pk"):
            if recompute(pk=project.pk):
                self.stdout.write(f"{project.name}: other figures than before.")
        self.stdout.write("All plans are worked out.")
