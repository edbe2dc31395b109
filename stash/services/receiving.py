"""New cones: yarn, shade and weight suffice, everything else may wait."""

from datetime import date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Model
from django.utils import timezone
from django.utils.translation import gettext as _

from stash.models import (
    Condition,
    Cone,
    CoreKind,
    Delivery,
    EntryKind,
    Form,
    Lot,
    OrderLine,
    Person,
    Place,
    Shade,
)
from stash.models.folding import fold
from stash.services.locking import lock_shade, lock_yarn
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
from stash.services.weighing import check_masses, record

# Two people who add a cone at once may be given one code; the later tries the next. Far more than people.
CODE_TRIES = 50


def next_code() -> str:
    """The next free shelf code: K-001, K-002 and so on, after the highest in use."""
    # A code that somebody typed with more figures is no number of ours.
    ours = Cone.objects.filter(code__iregex=r"^K-[0-9]{1,8}$").values_list("code", flat=True)
    number = max((int(code[2:]) for code in ours), default=0) + 1
    while Cone.objects.filter(code__iexact=f"K-{number:03d}").exists():
        number += 1
    return f"K-{number:03d}"


def net_of(*, scale_mg: int, gross: bool, core_mg: int | None) -> int:
    """What the yarn weighs of what the scale said of a new cone, in mg. Raises Refusal naming the field."""
    check_masses(scale_mg=scale_mg, core_mg=core_mg, field="weight")
    if gross and core_mg is None:
        raise Refusal("Say what the empty core weighs, or give the weight of the yarn alone.", field="core")
    net_mg = scale_mg - (core_mg or 0) if gross else scale_mg
    if net_mg <= 0:
        raise Refusal("After taking off the core no yarn is left. Check both weights.", field="weight")
    return net_mg


def check_code(cone: Cone) -> None:
    """Raises ValidationError when another cone has the code, in capitals or small letters."""
    if Cone.objects.filter(code__iexact=cone.code).exclude(pk=cone.pk).exists():
        raise ValidationError({"code": "Another cone has this code."})


def find_lot(shade: Shade, name: str) -> Lot | None:
    """The lot of that name in capitals or small letters, made if it is new; None for an unknown one.

    Inside a transaction.
    """
    name = name.strip()
    if not name:
        return None
    check_name(Lot, name, "lot")
    return (
        Lot.objects.filter(shade=shade, name__iexact=name).first()
        or Lot.objects.get_or_create(shade=shade, name=name)[0]
    )


def find_place(name: str) -> Place | None:
    """The place of that name in capitals or small letters, made if it is new; None for none."""
    name = name.strip()
    if not name:
        return None
    check_name(Place, name, "place")
    return Place.objects.filter(name__iexact=name).first() or Place.objects.get_or_create(name=name)[0]


def check_name(model: type[Model], name: str, field: str) -> None:
    """Raises ValidationError for a name longer than the model keeps."""
    most = model._meta.get_field("name").max_length
    if len(name) > most:
        raise ValidationError({field: f"Write it with at most {most} characters; this has {len(name)}."})


@transaction.atomic
def find_shade(yarn_id: int, name: str, colour: str = "") -> Shade:
    """The shade of that name, in any case, made if it is new. Raises Refusal, or ValidationError."""
    name = name.strip()
    yarn = lock_yarn(yarn_id)
    if yarn.retired_at:
        raise Refusal(
            f"{yarn.name} is retired. Bring the yarn back before adding a cone of it.", field="yarn"
        )
    known = Shade.objects.filter(yarn_id=yarn_id, search=fold(name)).first()
    if known is None:
        known = Shade(yarn_id=yarn_id, name=name, colour=colour, search=fold(name))
        save_checked(known)
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
                _("%(shade)s has the colour %(value)s already. Leave this empty, or change the shade.")
                % {"shade": known.name, "value": known.colour},
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
    core_kind: CoreKind | None = None,
    labelled_mg: int | None = None,
    price_cents: int | None = None,
    delivery: Delivery | None = None,
    is_estimate: bool = False,
    order_line: OrderLine | None = None,
    apart_until: date | None = None,
) -> Cone:
    """Put a cone on the shelf with its first entry. Raises Refusal, or ValidationError naming the field.

    `at` is when it came, now unless told. `is_estimate` says that the weight is none of a scale's. `apart_until` keeps
    it in quarantine until that day. Who gives an `order_line` holds its order locked, and counts the cone there.
    """
    at = at or timezone.now()
    if core_kind:
        if core_mg not in (None, core_kind.mass_mg):
            raise Refusal(
                "The kind of core chosen weighs something else. Leave one of the two empty.", field="core"
            )
        core_mg = core_kind.mass_mg
    net_mg = net_of(scale_mg=scale_mg, gross=gross, core_mg=core_mg)
    # Locked, so that the shade is not retired while this cone comes.
    if lock_shade(shade.pk).retired_at:
        raise Refusal(
            f"{shade.name} is retired. Bring the shade back before adding a cone of it.", field="shade"
        )
    cone = Cone(
        code=code.strip(),
        shade=shade,
        lot=find_lot(shade, lot),
        form=form,
        core_mg=core_mg,
        place=find_place(place),
        note=note.strip(),
        received_at=at,
        core_kind=core_kind,
        labelled_mg=labelled_mg,
        price_cents=price_cents,
        delivery=delivery,
        order_line=order_line,
        condition=Condition.QUARANTINE if apart_until else Condition.SOUND,
        condition_on=apart_until,
    )
    save_with_code(cone)
    record(
        cone=cone,
        kind=EntryKind.RECEIVED,
        after_mg=net_mg,
        by=by,
        gross_mg=scale_mg if gross else None,
        core_mg=core_mg if gross else None,
        at=at,
        is_estimate=is_estimate,
    )
    return cone


def save_with_code(cone: Cone) -> None:
    """Save a new cone under the code typed for it, or else under the next one that is free."""
    if cone.code:
        check_code(cone)
        cone.search = cone.search_words()
        save_checked(cone)
        return
    for left in reversed(range(CODE_TRIES)):
        cone.code = next_code()
        cone.search = cone.search_words()
        cone.full_clean(validate_unique=False, validate_constraints=False)
        try:
            with transaction.atomic():
                cone.save(force_insert=True)
            return
        except IntegrityError:
            if not left:
                raise
