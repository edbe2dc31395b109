"""Kinds of core: one empty core is weighed for all cones that are wound on the same."""

from dataclasses import dataclass

from django.db import transaction
from django.db.models import Max

from stash.models import Cone, CoreKind, Entry, EntryKind, Person
from stash.services.locking import lock_cones
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
from stash.services.undoing import standing
from stash.services.versions import lock_version
from stash.services.weighing import check_masses, record


@dataclass(frozen=True, slots=True)
class CoreChange:
    """What another mass of its core makes of a cone. `net_mg` is None where it was not last weighed with it."""

    cone: Cone
    net_mg: int | None
    change_mg: int


def changes_of(kind: CoreKind, mass_mg: int) -> list[CoreChange]:
    """What would become of the cones on the shelf that have this core, if it weighed so much."""
    return _changes(list(kind.cones.live().with_names().order_by("pk")), mass_mg)


def _changes(cones: list[Cone], mass_mg: int) -> list[CoreChange]:
    heads = standing(Entry.objects.filter(cone__in=cones)).order_by().values("cone").annotate(last=Max("pk"))
    lasts = {entry.cone_id: entry for entry in Entry.objects.filter(pk__in=[head["last"] for head in heads])}
    changes = []
    for cone in cones:
        last = lasts.get(cone.pk)
        if last is None or last.gross_mg is None:
            changes.append(CoreChange(cone, None, 0))
        else:
            net_mg = last.gross_mg - mass_mg
            changes.append(CoreChange(cone, net_mg, net_mg - cone.on_hand_mg))
    return changes


def kind_of(key: str) -> CoreKind | None:
    """The kind of core of that key, as a form's choice gives it; None for none. Raises Refusal if it is gone."""
    if not key:
        return None
    found = CoreKind.objects.filter(pk=int(key)).first()
    if found is None:
        raise Refusal("There is no such kind of core any more.", field="core_kind")
    return found


@transaction.atomic
def add_core(*, name: str, mass_mg: int) -> CoreKind:
    """Raises Refusal, or ValidationError naming the field."""
    check_masses(scale_mg=mass_mg, core_mg=None, field="mass")
    kind = CoreKind(name=name.strip(), mass_mg=mass_mg)
    _check_name(kind)
    save_checked(kind)
    return kind


@transaction.atomic
def change_core(
    *, pk: int, version: int | None, name: str, mass_mg: int, by: Person
) -> tuple[CoreKind, list[CoreChange]]:
    """Name a kind of core anew, or correct its mass: the cones on it follow, each net by an entry of its own.

    Only a cone whose latest entry was weighed with its core gets another net; of the others the core alone
    changes. Raises Refusal, or ValidationError naming the field.
    """
    check_masses(scale_mg=mass_mg, core_mg=None, field="mass")
    kind = lock_version(CoreKind.objects.all(), pk, version, "This kind of core")
    moved = kind.mass_mg != mass_mg
    kind.name, kind.mass_mg = name.strip(), mass_mg
    _check_name(kind)
    save_checked(kind)
    if not moved:
        return kind, []
    cones = lock_cones(kind.cones.live().values_list("pk", flat=True))
    changes = _changes([cones[key] for key in sorted(cones)], mass_mg)
    for change in changes:
        cone = change.cone
        if change.net_mg is not None and change.net_mg < 0:
            raise Refusal(
                f"Cone {cone.code} weighed less than that with its core. Check the figure, or the cone.",
                field="mass",
            )
        cone.core_mg = mass_mg
        cone.version += 1
        cone.save(update_fields=["core_mg", "version"])
        if change.change_mg:
            record(
                cone=cone,
                kind=EntryKind.CORRECTED,
                after_mg=cone.on_hand_mg + change.change_mg,
                by=by,
                reason=f"core weighed again: {kind.name}",
                gross_mg=cone.on_hand_mg + change.change_mg + mass_mg,
                core_mg=mass_mg,
            )
    return kind, changes


def _check_name(kind: CoreKind) -> None:
    twin = CoreKind.objects.filter(name__iexact=kind.name).exclude(pk=kind.pk).first()
    if twin:
        raise Refusal(f"There is a kind of core {twin.name} already.", field="name")
