"""Making a project of one that came as a file."""

from collections.abc import Mapping
from datetime import date

from django.db import transaction

from projects.models import Project
from projects.services.planning import ProjectFacts, save_project
from projects.sharing.reading import ProjectInFile


@transaction.atomic
def open_project(
    *,
    found: ProjectInFile,
    shades: Mapping[str, int],
    name: str,
    occasion: str = "",
    need_on: date | None = None,
) -> Project:
    """A new project of the file's plan, with this studio's shades by key; keys without one stay open.

    Raises Refusal, CalcError or ValidationError.
    """
    facts = ProjectFacts(
        name=name,
        plan=found.plan,
        structure=found.structure,
        shades=shades,
        loss_way=found.loss_way,
        piece_name=found.piece_name,
        occasion=occasion,
        need_on=need_on,
        note=found.note,
        kits=found.kits,
        **found.draft,
    )
    project = save_project(facts=facts, leave_open=True)
    for field, value in found.loom.items():
        setattr(project, field, value)
    project.save(update_fields=list(found.loom))
    return project
