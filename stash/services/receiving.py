"""New cones: yarn, shade and weight suffice, everything else may wait."""

from datetime import datetime

from typing import Any

from django.db import transaction
from django.utils import timezone

from stash.models import Cone, EntryKind, Form, Lot, Person, Place, Shade
from stash.models.folding import fold
from stash.services.refusal import Refusal
from stash.services.weighing import record


def next_code() -> str:
    """The next free shelf code: K-001, K-002 and so on, after the highest in use."""
    highest = 0
    for code in (
        Cone.objects.filter(code__startswith="K-").order_by("-pk").values_list("code", flat=True)[:500]
    ):
        if code[2:].isdecimal():
            highest = max(highest, int(code[2:]))
    return f"K-{highest + 1:03d}"


def find_lot(shade: Shade, name: str) -> Lot | None:
    """The lot of that name, made if it is new; None for an unknown one. Inside a transaction."""
    name = name.strip()
    return Lot.objects.get_or_create(shade=shade, name=name)[0] if name else None


def find_place(name: str) -> Place | None:
    """The place of that name in capitals or small letters, made if it is new; None for none."""
    name = name.strip()
    if not name:
        return None
    return Place.objects.filter(name__iexact=name).first() or Place.objects.get_or_create(name=name)[0]


def find_shade(yarn_id: int, name: str, colour: str = "") -> Shade:
    """The shade of that name, in any case, made if it is new. Inside a transaction."""
    name = name.strip()
    known = Shade.objects.filter(yarn_id=yarn_id, search=fold(name)).first()
    if known is None:
        known = Shade(yarn_id=yarn_id, name=name, colour=colour, search=fold(name))
        known.full_clean()
        known.save()
    if known.retired_at:
        raise Refusal(
            f"{known.name} is retired. Bring the shade back before adding a cone of it.", field="shade"
        )
    return known


@transaction.atomic
def receive_cone_of(*, yarn_id: int, shade: str, colour: str = "", **cone: Any) -> Cone:
    """Put a cone of a shade named by text on the shelf; the shade is made if this yarn has none of the name.

    `colour` is that of a new shade, or of one that has none yet. The rest as in `receive_cone`.
    """
    known = find_shade(yarn_id, shade, colour)
    if colour and known.colour != colour:
        if known.colour:
            raise Refusal(
                f"{known.name} has the colour {known.colour} already. Leave this empty, or change the shade.",
                field="colour",
            )
        known.colour = colour
        known.version += 1
        known.full_clean()
        known.save(update_fields=["colour", "version"])
    return receive_cone(shade=known, **cone)


@transaction.atomic
def receive_cone(
    *,
    shade: Shade,
    scale_mg: int,
    by: Person,
    gross: bool = False,
    core_mg: int | None = None,
    lot: str = "",
    form: str = Form.CONE,
    place: str = "",
    code: str = "",
    note: str = "",
    at: datetime | None = None,
) -> Cone:
    """Put a cone on the shelf with its first entry. Raises Refusal, or ValidationError naming the field.

    `at` is when it came, now unless told.
    """
    at = at or timezone.now()
    if gross and core_mg is None:
        raise Refusal("Say what the empty core weighs, or give the weight of the yarn alone.", field="core")
    net_mg = scale_mg - (core_mg or 0) if gross else scale_mg
    if net_mg <= 0:
        raise Refusal("After taking off the core no yarn is left. Check both weights.", field="weight")
    cone = Cone(
        code=code.strip() or next_code(),
        shade=shade,
        lot=find_lot(shade, lot),
        form=form,
        core_mg=core_mg,
        place=find_place(place),
        note=note.strip(),
        received_at=at,
    )
    cone.search = cone.search_words()
    cone.full_clean()
    cone.save()
    record(
        cone=cone,
        kind=EntryKind.RECEIVED,
        after_mg=net_mg,
        by=by,
        gross_mg=scale_mg if gross else None,
        core_mg=core_mg if gross else None,
        at=at,
    )
    return cone
