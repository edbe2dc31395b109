"""Equipment is noted, corrected, lent out and taken away. Nothing of it is ever removed: projects point at it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from django.db import transaction
from django.utils import timezone

from stash.calc.density import Density
from stash.calc.writing import Measures
from stash.models import Board, Loom, Reed, ShaftHeddles, Tool
from stash.models.equipment import Equipment
from stash.services.receiving import find_place
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
from stash.services.versions import lock_version

Row = TypeVar("Row", bound=Equipment)

KINDS: Mapping[str, type[Equipment]] = {"looms": Loom, "reeds": Reed, "boards": Board, "tools": Tool}
WORDS = {"looms": "loom", "reeds": "reed", "boards": "board", "tools": "tool"}
MOST_AT_ONCE = 40


@transaction.atomic
def save_equipment(
    *,
    kind: str,
    values: Mapping[str, object],
    place: str = "",
    heddles: Sequence[int] | None = None,
    pk: int | None = None,
    version: int | None = None,
) -> Equipment:
    """Note a thing, or correct the one of that key. `values` are its columns; `heddles` by shaft, for a
    loom: none where they were not counted.

    Raises Refusal, ChangedMeanwhile, or ValidationError naming the field.
    """
    model = KINDS[kind]
    what = f"This {WORDS[kind]}"
    row = lock_version(model.objects.all(), pk, version, what) if pk else model()
    for name, value in values.items():
        setattr(row, name, value)
    row.name = row.name.strip()
    _check_name(row)
    row.place = find_place(place)
    if isinstance(row, Loom) and heddles and len(heddles) != row.shafts:
        raise Refusal(
            f"{row.shafts} shafts take {row.shafts} numbers of heddles; these are {len(heddles)}.",
            field="heddles",
        )
    save_checked(row)
    if isinstance(row, Loom) and heddles is not None:
        row.heddles.all().delete()
        ShaftHeddles.objects.bulk_create(
            ShaftHeddles(loom=row, shaft=shaft, number=number)
            for shaft, number in enumerate(heddles, start=1)
        )
    return row


@dataclass(frozen=True, slots=True)
class NewReeds:
    """Reeds of one size, as they stand on one wall."""

    dents: Sequence[Density]
    length_um: int
    height_um: int | None = None
    place: str = ""


@transaction.atomic
def add_reeds(*, reeds: NewReeds, measures: Measures) -> list[Reed]:
    """Several at once, each named by what it is: 10 dents per in, 24 in. Raises Refusal or ValidationError."""
    if not 1 <= len(reeds.dents) <= MOST_AT_ONCE:
        raise Refusal(f"Note from 1 to {MOST_AT_ONCE} reeds at once.", field="dents")
    place = find_place(reeds.place)
    taken = {name.lower() for name in Reed.objects.values_list("name", flat=True)}
    made = []
    for dents in reeds.dents:
        name = _free(f"{measures.density(dents, 'dents')}, {measures.short_length(reeds.length_um)}", taken)
        taken.add(name.lower())
        reed = Reed(
            name=name,
            dents_numerator=dents.count.numerator,
            dents_denominator=dents.count.denominator,
            dents_per_um=dents.per_um,
            length_um=reeds.length_um,
            height_um=reeds.height_um,
            place=place,
        )
        save_checked(reed)
        made.append(reed)
    return made


@transaction.atomic
def lend(*, kind: str, pk: int, to: str, back_on: date | None) -> Equipment:
    """Raises Refusal where it is lent to somebody already, or was taken away."""
    row = _lock(kind, pk)
    if row.retired_at:
        raise Refusal(f"{row.name} is kept no more: take it back into use first.")
    if row.lent_to and row.lent_to != to.strip():
        raise Refusal(
            f"{row.name} is lent to {row.lent_to}: note that it is back, then lend it on.", field="to"
        )
    if not to.strip():
        raise Refusal("Say to whom it is lent: a first name or initials are enough.", field="to")
    row.lent_to, row.back_on = to.strip(), back_on
    row.version += 1
    save_checked(row)
    return row


@transaction.atomic
def take_back(*, kind: str, pk: int) -> Equipment:
    row = _lock(kind, pk)
    if row.lent_to:
        row.lent_to, row.back_on = "", None
        row.version += 1
        save_checked(row)
    return row


@transaction.atomic
def retire(*, kind: str, pk: int, back: bool = False) -> Equipment:
    """It is offered no more, or again. Plans that name it keep it. Raises Refusal for what is lent out."""
    row = _lock(kind, pk)
    if not back and row.lent_to:
        raise Refusal(f"{row.name} is lent to {row.lent_to}: note that it is back first.")
    row.retired_at = None if back else timezone.now()
    row.version += 1
    save_checked(row)
    return row


def _lock(kind: str, pk: int) -> Equipment:
    row = KINDS[kind].objects.select_for_update(of=("self",), no_key=True).filter(pk=pk).first()
    if row is None:
        raise Refusal("There is no such thing among the equipment any more.")
    return row


def _check_name(row: Equipment) -> None:
    twin = type(row).objects.filter(name__iexact=row.name).exclude(pk=row.pk).first()
    if twin:
        gone = " among those taken away" if twin.retired_at else ""
        raise Refusal(f"There is {twin.name} already{gone}. Give another name.", field="name")


def _free(name: str, taken: set[str]) -> str:
    number, found = 1, name
    while found.lower() in taken:
        number += 1
        found = f"{name}, {number}"
    return found
