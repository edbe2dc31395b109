"""The same step for many rows at once: all of them or none, with every refusal named.

Rows are taken in the one order of locks (stash.services.locking): shades by yarn, cones by primary key.
"""

from collections.abc import Callable, Iterable
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction

from stash.models import Cone, Person, Shade
from stash.services.changing import set_condition
from stash.services.cones import move_cone, retire_cone
from stash.services.locking import lock_cone, lock_shade
from stash.services.refusal import Refusal
from stash.services.yarns import retire_shade

MOST = 200
"""Rows of one step: what a person looks through before saying yes."""


class SomeRefused(Refusal):
    """Nothing was written, because some rows refuse. `reasons` are their sentences, each once."""

    def __init__(self, reasons: list[str]) -> None:
        super().__init__(" ".join(reasons))
        self.reasons = reasons


def _each(pks: Iterable[int], write: Callable[[int], object]) -> int:
    """Write row by row within the caller's transaction; raises SomeRefused after the last if any refused.

    A refusal about what was typed for all, at a field of the form, is raised as it is.
    """
    reasons, count = [], 0
    for pk in pks:
        try:
            with transaction.atomic():
                write(pk)
        except ValidationError as error:
            reasons += error.messages
        except Refusal as error:
            if error.field:
                raise
            reasons.append(error.message)
        count += 1
    if reasons:
        raise SomeRefused(list(dict.fromkeys(reasons)))
    return count


@transaction.atomic
def move_cones(*, pks: Iterable[int], place: str, by: Person) -> int:
    """Returns how many were moved. Raises SomeRefused, or ValidationError about the place."""

    def move(pk: int) -> None:
        cone = lock_cone(pk)
        if cone.retired_at:
            raise Refusal(f"Cone {cone.code} is retired.")
        move_cone(pk=pk, place=place, by=by)

    return _each(sorted(set(pks)), move)


@transaction.atomic
def retire_cones(*, pks: Iterable[int], by: Person, reason: str) -> int:
    """Returns how many were retired; what is left on each is written off. Raises SomeRefused, Refusal."""
    return _each(sorted(set(pks)), lambda pk: retire_cone(pk=pk, by=by, reason=reason))


@transaction.atomic
def note_condition(
    *, pks: Iterable[int], condition: str, on: date | None, by: Person, reason: str = ""
) -> int:
    """Returns of how many it is noted; where it stands so already, nothing is added. Raises SomeRefused."""

    def write(pk: int) -> None:
        cone = lock_cone(pk)
        if (cone.condition, cone.condition_on) != (condition, on):
            set_condition(pk=pk, condition=condition, on=on, by=by, reason=reason)

    return _each(sorted(set(pks)), write)


def _by_yarn(pks: Iterable[int]) -> list[int]:
    known = dict(Shade.objects.filter(pk__in=set(pks)).values_list("pk", "yarn_id"))
    return sorted(set(pks), key=lambda pk: (known.get(pk, 0), pk))


@transaction.atomic
def set_keep_levels(*, pks: Iterable[int], keep_mg: int | None, one_more: bool | None = None) -> int:
    """Returns of how many shades it is set; None for no keep level. `one_more` None leaves what is ordered beyond the
    need as it is with each. Raises SomeRefused.
    """

    def write(pk: int) -> None:
        shade = lock_shade(pk)
        if shade.retired_at:
            raise Refusal(f"{shade.name} is retired.")
        shade.keep_mg = keep_mg
        if one_more is not None:
            shade.one_more = one_more
        shade.version += 1
        shade.full_clean()
        shade.save(update_fields=["keep_mg", "one_more", "version"])

    return _each(_by_yarn(pks), write)


@transaction.atomic
def retire_shades(*, pks: Iterable[int]) -> int:
    """Returns how many were retired. Raises SomeRefused."""

    def write(pk: int) -> None:
        shade = Shade.objects.filter(pk=pk).first()
        if shade is None:
            raise Refusal("There is no such shade any more.")
        if shade.retired_at:
            raise Refusal(f"{shade.name} is retired already.")
        retire_shade(pk=pk)

    return _each(_by_yarn(pks), write)


def why_not_retire(cones: Iterable[Cone]) -> dict[int, str]:
    """For each cone that cannot be retired now, why. The cones come with their reservations' claims."""
    found = {}
    for cone in cones:
        holders = ", ".join(sorted({line.claim.name for line in cone.reservations.all()}))
        if cone.retired_at:
            found[cone.pk] = "is retired already"
        elif holders:
            found[cone.pk] = f"is reserved for {holders}"
    return found


def why_not_move(cones: Iterable[Cone]) -> dict[int, str]:
    return {cone.pk: "is retired" for cone in cones if cone.retired_at}


def why_not_retire_shades(shades: Iterable[Shade]) -> dict[int, str]:
    """For each shade that cannot be retired now, why. The shades come with `cone_count` of what is on the shelf."""
    found = {}
    for shade in shades:
        if shade.retired_at:
            found[shade.pk] = "is retired already"
        elif shade.cone_count:
            few = shade.cone_count == 1
            found[shade.pk] = f"{shade.cone_count} cone{' stands' if few else 's stand'} on the shelf"
    return found


def why_not_keep(shades: Iterable[Shade]) -> dict[int, str]:
    return {shade.pk: "is retired" for shade in shades if shade.retired_at}
