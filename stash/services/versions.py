"""Forms carry the version they were opened with; a second save is refused, nothing is overwritten unseen."""

from typing import TypeVar

from django.db import models

from stash.services.refusal import ChangedMeanwhile

Row = TypeVar("Row", bound=models.Model)


def lock_version(queryset: "models.QuerySet[Row]", pk: int, version: int | None, what: str) -> Row:
    """The row, locked, if it still has the version the form was opened with (None: whatever it has).

    Raises ChangedMeanwhile with what stands there now.
    """
    row = queryset.select_for_update(of=("self",), no_key=True).get(pk=pk)
    if version is not None and row.version != version:
        raise ChangedMeanwhile(what, row)
    row.version += 1
    return row
