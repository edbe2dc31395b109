"""Winding by the warping ticket: how it is wound, and how far it is."""

from django.db import transaction

from projects.models import Project
from stash.models import Board
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


@transaction.atomic
def keep_winding(*, pk: int, at_once: int, board: Board | None) -> Project:
    """Keep with the project how many threads are wound at once, and on which board or mill.

    The lines of the ticket are others then: winding begins anew. Raises Refusal, or ValidationError naming a field.
    """
    project = Project.objects.select_for_update().filter(pk=pk).first()
    if project is None:
        raise Refusal("This project is gone.")
    if project.closed_at:
        raise Refusal("This project is put away. Take it out again before winding it.")
    if (project.at_once, project.board_id) != (at_once, board.pk if board else None):
        project.ticket_done = 0
    project.at_once, project.board = at_once, board
    project.full_clean(validate_unique=False)
    project.save(update_fields=["at_once", "board", "ticket_done"])
    return project
