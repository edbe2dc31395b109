"""Wishes for lots: of which lots a project takes its shades."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db import transaction

from projects.models import Project, ProjectShade
from projects.models.shade import LotWish
from projects.services.reserving import lock_project
from stash.models import Cone, Lot
from stash.services.refusal import Refusal

COLUMNS = ("wish", "wish_lot", "wish_cone")


class PlanChanged(Refusal):
    """Somebody changed the plan after this choice was opened."""


@dataclass(frozen=True, slots=True)
class Wished:
    """What is wished of one shade: `lot_id` goes with a wish for a lot, `cone_id` with one for a cone."""

    wish: str = LotWish.ANY
    lot_id: int | None = None
    cone_id: int | None = None


@transaction.atomic
def set_wishes(*, pk: int, wishes: Mapping[str, Wished], version: int | None = None) -> Project:
    """Say of which lots a project takes the shades under these keys; other keys stay as they are.

    What it has reserved stays as it is: its page says when that is no longer as wished. Raises PlanChanged, or Refusal
    with the field `wish_A` for the shade under A.
    """
    project = lock_project(pk)
    if project.closed_at:
        raise Refusal("This project is put away. Take it out again before wishing for lots.")
    if version is not None and version != project.version:
        raise PlanChanged(
            "The plan was changed in another window. What you chose is kept below: save again to put it in place."
        )
    rows = {row.key: row for row in project.shades.select_related("shade")}
    changed = False
    for key, wished in wishes.items():
        row = rows.get(key)
        if row is None:
            raise Refusal(f"No shade stands for {key} any more. Read the page again.", field=f"wish_{key}")
        if wished == Wished(row.wish, row.wish_lot_id, row.wish_cone_id):
            continue
        _check(row, wished)
        row.wish, row.wish_lot_id, row.wish_cone_id = wished.wish, wished.lot_id, wished.cone_id
        row.save(update_fields=COLUMNS)
        changed = True
    if changed:
        project.version += 1
        project.save(update_fields=["version"])
    return project


def _check(row: ProjectShade, wished: Wished) -> None:
    field = f"wish_{row.key}"
    names_lot, names_cone = wished.lot_id is not None, wished.cone_id is not None
    if wished.wish not in LotWish.values or (names_lot, names_cone) != (
        wished.wish == LotWish.LOT,
        wished.wish == LotWish.CONE,
    ):
        raise Refusal(
            f"{row.shade.name}: say which lot or which cone, or wish for none in particular.", field=field
        )
    if names_lot and not Lot.objects.filter(pk=wished.lot_id, shade=row.shade_id).exists():
        raise Refusal(f"That is no lot of {row.shade.name}. Choose one of its own lots.", field=field)
    if names_cone:
        cone = Cone.objects.filter(pk=wished.cone_id, shade=row.shade_id).first()
        if cone is None:
            raise Refusal(f"That is no cone of {row.shade.name}. Choose one of its own cones.", field=field)
        if cone.retired_at:
            raise Refusal(
                f"Cone {cone.code} is retired. Choose a cone of {row.shade.name} that is on the shelf.",
                field=field,
            )


def keep_wishes(project: Project, rows: Iterable[ProjectShade]) -> None:
    """Wish of the project's shades what these rows wish of the same ones. Inside the caller's transaction, with the
    project locked."""
    wanted = {row.shade_id: row for row in rows}
    for row in project.shades.all():
        other = wanted.get(row.shade_id)
        if other is not None:
            row.wish, row.wish_lot_id, row.wish_cone_id = other.wish, other.wish_lot_id, other.wish_cone_id
            row.save(update_fields=COLUMNS)
