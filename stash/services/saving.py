"""Saving a row whose name must be its own, when somebody else may take the name in the same moment."""

from collections.abc import Collection

from django.db import IntegrityError, models, transaction


def save_checked(row: models.Model, *, exclude: Collection[str] = ()) -> None:
    """`full_clean`, then save. Raises ValidationError naming the field.

    Between the two another writer may have taken the name: the database then refuses, and cleaning again
    says it in words. Inside the caller's transaction, which stays usable.
    """
    row.full_clean(exclude=exclude)
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        row.full_clean(exclude=exclude)
        raise
