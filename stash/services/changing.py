"""What happens to yarn between two weighings: wound over, split, joined, written off.

Yarn that goes from one cone to another leaves an entry on each, the second with the first as its partner. Both
cones are locked by primary key, and nothing that is reserved moves away under who reserved it.
"""

from datetime import date

from django.db import transaction
from django.utils import timezone

from stash.calc.quantity import Amount, half_up
from stash.models import Condition, Cone, Entry, EntryKind, Form, Person
from stash.services.cones import note
from stash.services.locking import lock_cone, lock_cones, lock_shade
from stash.services.receiving import find_place, save_with_code
from stash.services.refusal import Refusal
from stash.services.weighing import check_masses, record

JOINED = "joined to "


def check_on_shelf(*cones: Cone) -> None:
    """Raises Refusal naming the first that is retired."""
    for cone in cones:
        if cone.retired_at:
            raise Refusal(f"Cone {cone.code} is retired. Bring it back first.")


def check_same_lot(source: Cone, target: Cone) -> None:
    """Only yarn that is surely the same goes together: one shade, one lot, and the lot known. Raises Refusal."""
    if source.pk == target.pk:
        raise Refusal("Choose another cone than this one.", field="target")
    if source.shade_id != target.shade_id:
        raise Refusal(f"Cone {target.code} is of another shade.", field="target")
    if source.lot_id is None or target.lot_id is None:
        unknown = source if source.lot_id is None else target
        raise Refusal(
            f"The dye lot of cone {unknown.code} is not known, so it matches no other. Note the lot first.",
            field="target",
        )
    if source.lot_id != target.lot_id:
        raise Refusal(
            f"Cone {source.code} is of lot {source.lot}, cone {target.code} of lot {target.lot}. "
            "Two lots stay apart.",
            field="target",
        )


def mass_of(amount: Amount, cone: Cone) -> int:
    """Whole mg of what was typed as a mass or a length, a half upwards. Raises Refusal for nothing."""
    mass_mg = half_up(amount.mass_mg(cone.shade.yarn.grist))
    if mass_mg <= 0:
        raise Refusal("Give more than nothing.", field="amount")
    return mass_mg


def check_free(cone: Cone, mass_mg: int) -> None:
    """Raises Refusal when more is asked for than is free of a locked cone."""
    if mass_mg <= cone.free_mg:
        return
    free, asked = _grams(cone.free_mg), _grams(mass_mg)
    if mass_mg > cone.on_hand_mg:
        raise Refusal(
            f"Cone {cone.code} holds {_grams(cone.on_hand_mg)} g, {asked} g were asked for.", field="amount"
        )
    holders = ", ".join(sorted({line.claim.name for line in cone.reservations.select_related("claim")}))
    raise Refusal(
        f"Of cone {cone.code} {free} g are free, {asked} g were asked for; the rest is reserved for {holders}. "
        "Release that first, or take less.",
        field="amount",
    )


@transaction.atomic
def wind_over(
    *, source_id: int, target_id: int, amount: Amount, by: Person, is_estimate: bool = False, reason: str = ""
) -> tuple[Entry, Entry]:
    """Move so much yarn to another cone of the same shade and lot; the entries of source and target.

    A length is reckoned, so it counts as an estimate. Raises Refusal.
    """
    cones = lock_cones((source_id, target_id))
    source, target = cones[source_id], cones[target_id]
    check_on_shelf(source, target)
    check_same_lot(source, target)
    mass_mg = mass_of(amount, source)
    check_free(source, mass_mg)
    return _over(
        source, target, mass_mg, by=by, is_estimate=is_estimate or amount.kind == "length", reason=reason
    )


@transaction.atomic
def split(
    *,
    source_id: int,
    amount: Amount,
    by: Person,
    form: str = Form.SPOOL,
    core_mg: int | None = None,
    place: str = "",
    code: str = "",
    is_estimate: bool = False,
    reason: str = "",
) -> Cone:
    """Wind so much yarn on to a new package, of the same shade, lot and condition. Raises Refusal, or
    ValidationError naming the field.
    """
    check_masses(scale_mg=0, core_mg=core_mg, field="core")
    shade_id = Cone.objects.filter(pk=source_id).values_list("shade_id", flat=True).first()
    if shade_id:
        lock_shade(shade_id)
    source = lock_cone(source_id)
    check_on_shelf(source)
    mass_mg = mass_of(amount, source)
    check_free(source, mass_mg)
    target = Cone(
        code=code.strip(),
        shade=source.shade,
        lot=source.lot,
        form=form,
        core_mg=core_mg,
        place=find_place(place) if place.strip() else source.place,
        condition=source.condition,
        condition_on=source.condition_on,
        received_at=timezone.now(),
    )
    save_with_code(target)
    _over(source, target, mass_mg, by=by, is_estimate=is_estimate or amount.kind == "length", reason=reason)
    return target


@transaction.atomic
def join(*, source_id: int, target_id: int, by: Person) -> Cone:
    """Wind all of a remnant on to another cone of the same shade and lot, and retire the emptied one.

    What is reserved on the remnant must be released first. Raises Refusal. Returns the target.
    """
    cones = lock_cones((source_id, target_id))
    source, target = cones[source_id], cones[target_id]
    check_on_shelf(source, target)
    check_same_lot(source, target)
    if not source.on_hand_mg:
        raise Refusal(f"Cone {source.code} is empty: there is nothing to join. Retire it.")
    check_free(source, source.on_hand_mg)
    if source.reservations.exists():
        raise Refusal(f"Cone {source.code} is reserved. Release that first.")
    __, given = _over(source, target, source.on_hand_mg, by=by, is_estimate=source.estimated)
    record(
        cone=source, kind=EntryKind.RETIRED, after_mg=0, by=by, reason=f"{JOINED}{target.code}", partner=given
    )
    source.retired_at = timezone.now()
    source.version += 1
    source.save(update_fields=["retired_at", "version"])
    return target


def _over(
    source: Cone, target: Cone, mass_mg: int, *, by: Person, is_estimate: bool, reason: str = ""
) -> tuple[Entry, Entry]:
    given = record(
        cone=target,
        kind=EntryKind.OVER,
        after_mg=target.on_hand_mg + mass_mg,
        by=by,
        is_estimate=is_estimate,
        reason=_with(f"from {source.code}", reason),
    )
    taken = record(
        cone=source,
        kind=EntryKind.OVER,
        after_mg=source.on_hand_mg - mass_mg,
        by=by,
        is_estimate=is_estimate,
        reason=_with(f"to {target.code}", reason),
        partner=given,
    )
    return taken, given


def _with(first: str, reason: str) -> str:
    return f"{first}: {reason.strip()}" if reason.strip() else first


@transaction.atomic
def write_off(*, pk: int, amount: Amount, reason: str, by: Person, is_estimate: bool = False) -> Entry:
    """Take a spoiled or given part off the books, with the reason; the cone stays. Raises Refusal."""
    cone = lock_cone(pk)
    check_on_shelf(cone)
    if not reason.strip():
        raise Refusal("Say why: moth, soiled, given away, sold.", field="reason")
    mass_mg = mass_of(amount, cone)
    check_free(cone, mass_mg)
    return record(
        cone=cone,
        kind=EntryKind.RETIRED,
        after_mg=cone.on_hand_mg - mass_mg,
        by=by,
        reason=reason.strip(),
        is_estimate=is_estimate or amount.kind == "length",
    )


@transaction.atomic
def set_condition(*, pk: int, condition: str, on: date | None, by: Person, reason: str = "") -> Cone:
    """Note what a cone is fit for, and since when (for quarantine until when). Raises Refusal.

    What is put with the oddments is offered to no project: a cone on which yarn is reserved cannot go there.
    Yarn found weak, or put in quarantine, is so whoever counts on it; the page then says who does.
    """
    if condition not in Condition.values:
        raise Refusal("Choose the condition from the list.", field="condition")
    cone = lock_cone(pk)
    check_on_shelf(cone)
    if condition == Condition.ODDMENT:
        holders = ", ".join(sorted({line.claim.name for line in cone.reservations.select_related("claim")}))
        if holders:
            raise Refusal(f"Cone {cone.code} is reserved for {holders}. Release that first.")
    if (cone.condition, cone.condition_on) == (condition, on):
        raise Refusal("So it stands already.", field="condition")
    cone.condition, cone.condition_on = condition, on
    cone.version += 1
    cone.full_clean()
    cone.save(update_fields=["condition", "condition_on", "version"])
    day = ""
    if on:
        day = f" {'until' if condition == Condition.QUARANTINE else 'since'} {on.day} {on:%B %Y}"
    note(
        cone=cone, kind=EntryKind.STATED, by=by, reason=_with(f"{cone.get_condition_display()}{day}", reason)
    )
    return cone


def _grams(mass_mg: int) -> str:
    return f"{mass_mg // 1000:,}.{mass_mg % 1000:03}".rstrip("0").rstrip(".")
