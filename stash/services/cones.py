"""Changing what is known of a cone, and taking it off the shelf."""

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from stash.models import Cone, CoreKind, EntryKind, Person
from stash.services.locking import lock_cone, lock_shade
from stash.services.ordering import lock_order
from stash.services.receiving import check_code, find_lot, find_place
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
from stash.services.taking_in import await_again, count_in_again, lock_line
from stash.services.undoing import latest
from stash.services.versions import lock_version
from stash.services.weighing import check_masses, record


@transaction.atomic
def change_cone(
    *,
    pk: int,
    version: int | None,
    code: str,
    lot: str,
    form: str,
    core_mg: int | None,
    place: str,
    note: str,
    by: Person,
    core_kind: CoreKind | None = None,
) -> Cone:
    """Put right what is written about a cone. Raises Refusal, or ValidationError naming the field.

    A kind of core newly chosen says what the core weighs; another mass given later is of no kind.

    When the last weighing was with the core, another core mass means another net: the books follow by
    an entry of their own.
    """
    check_masses(scale_mg=0, core_mg=core_mg, field="")
    cone = lock_version(Cone.objects.all(), pk, version, "This cone")
    last = latest(cone)
    cone.code = code.strip()
    cone.lot = find_lot(cone.shade, lot)
    cone.form = form
    cone.place = find_place(place)
    cone.note = note.strip()
    cone.search = cone.search_words()
    if core_kind and core_kind.pk != cone.core_kind_id:
        core_mg = core_kind.mass_mg
    cone.core_kind = core_kind if core_kind and core_kind.mass_mg == core_mg else None
    cone.core_mg = core_mg
    check_code(cone)
    save_checked(cone)
    if last and last.gross_mg is not None and core_mg is not None and core_mg != last.core_mg:
        if core_mg > last.gross_mg:
            raise Refusal(
                "The core cannot weigh more than the whole cone did when last weighed.", field="core"
            )
        record(
            cone=cone,
            kind=EntryKind.CORRECTED,
            after_mg=last.gross_mg - core_mg,
            by=by,
            reason="core weighed again",
            gross_mg=last.gross_mg,
            core_mg=core_mg,
        )
    return cone


@transaction.atomic
def move_cone(*, pk: int, place: str, by: Person | None = None) -> Cone:
    """Note where a cone stands now; an entry says who moved it, if that is told. Raises ValidationError."""
    cone = lock_cone(pk)
    before = cone.place_id
    cone.place = find_place(place)
    cone.search = cone.search_words()
    cone.version += 1
    cone.full_clean()
    cone.save(update_fields=["place", "search", "version"])
    if by and cone.place_id != before and not cone.retired_at:
        reason = f"to {cone.place}" if cone.place else "taken from its place"
        note(cone=cone, kind=EntryKind.MOVED, by=by, reason=reason)
    return cone


def note(*, cone: Cone, kind: EntryKind, by: Person, reason: str) -> None:
    """An entry that changes no weight: who did what, and when. The cone is locked."""
    record(cone=cone, kind=kind, after_mg=cone.on_hand_mg, by=by, reason=reason)


@transaction.atomic
def retire_cone(
    *, pk: int, by: Person, reason: str, at: datetime | None = None, is_awaited: bool = False
) -> Cone:
    """Take a cone off the shelf: what is left on it is written off by an entry, with the reason.

    `at` is when it went, now unless told. `is_awaited` says that it goes back, or never came, and that the order it
    came by awaits it again; else it counts there as come, whatever becomes of it.
    """
    at = at or timezone.now()
    line_id = Cone.objects.filter(pk=pk).values_list("order_line", flat=True).first() if is_awaited else None
    order_and_line = lock_line(line_id) if line_id else None
    cone = lock_cone(pk)
    if cone.retired_at:
        raise Refusal(f"Cone {cone.code} is retired already.")
    holders = sorted({line.claim.name for line in cone.reservations.select_related("claim")})
    if holders:
        raise Refusal(f"Cone {cone.code} is reserved for {', '.join(holders)}. Release that first.")
    if not reason.strip():
        raise Refusal("Say why: empty, given away, moth, sold.", field="reason")
    record(cone=cone, kind=EntryKind.RETIRED, after_mg=0, by=by, reason=reason.strip(), at=at)
    cone.retired_at = at
    cone.version += 1
    cone.save(update_fields=["retired_at", "version"])
    if order_and_line and cone.order_line_id == line_id:
        await_again(*order_and_line, cone)
    return cone


@transaction.atomic
def bring_back_cone(*, pk: int, by: Person) -> Cone:
    """Undo a retiring: the cone stands on the shelf again with what was written off, by a further entry.

    One that was to go back counts as come again where its order awaits it: its `order_line` says by which line.
    """
    order_id = Cone.objects.filter(pk=pk, order_line=None).values_list("delivery__order", flat=True).first()
    order = lock_order(order_id, None) if order_id else None
    shade_id = Cone.objects.filter(pk=pk).values_list("shade_id", flat=True).first()
    shade = lock_shade(shade_id) if shade_id else None
    cone = lock_cone(pk)
    if not cone.retired_at:
        raise Refusal(f"Cone {cone.code} stands on the shelf already.")
    if shade and shade.retired_at:
        raise Refusal(f"The shade {shade.name} is retired. Bring it back first.")
    last = cone.entries.order_by("-pk").first()
    cone.retired_at = None
    cone.version += 1
    cone.save(update_fields=["retired_at", "version"])
    if last and last.kind == EntryKind.RETIRED:
        record(
            cone=cone,
            kind=EntryKind.BROUGHT,
            after_mg=-last.change_mg,
            by=by,
            reason="to the shelf",
        )
    if order:
        count_in_again(order, cone)
    return cone
