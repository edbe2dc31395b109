"""Winding by the warping ticket: how far it is."""

from django.db import transaction

from projects.models import Project
from stash.services.refusal import Refusal


@transaction.atomic
def mark_lines(*, pk: int, done: int, lines: int) -> Project:
    """Say that the first `done` of so many lines are wound. Said twice it is the same; raises Refusal."""
    project = Project.objects.select_for_update().filter(pk=pk).first()
    if project is None:
        raise Refusal("This project is gone.")
    if project.closed_at:
        raise Refusal("This project is put away. Take it out again before winding it.")
    if not 0 <= done <= lines:
        raise Refusal(f"The ticket has {lines:,} lines; say from 0 to {lines:,}.", field="done")
    project.ticket_done = done
    project.save(update_fields=["ticket_done"])
    return project
