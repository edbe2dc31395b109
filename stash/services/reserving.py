"""Reserving: the protocol by which yarn is promised once.

1. One outermost transaction (`durable`): it cannot nest, so a page never reserves half.
2. Lock the cones, sorted by primary key; then read what is free, then decide.
3. Take each amount by one conditional UPDATE; no row changed means refused, and all is rolled back.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.db import connection, transaction
from django.db.models import F, OuterRef, Subquery, Sum
from django.db.models.functions import Coalesce
from django.utils import timezone

from stash.models import Claim, Cone, Reservation, Shortage
from stash.services.refusal import NotEnoughFree, Refusal


@dataclass(frozen=True, slots=True)
class Wanted:
    """So much of one cone. Warp has whole ends, weft none."""

    cone_id: int
    use: str
    ends: int
    length_um: int
    mass_mg: int


@dataclass(frozen=True, slots=True)
class Missing:
    """So much of one shade that the shelf does not have."""

    shade_id: int
    ends: int
    length_um: int
    mass_mg: int


def reserve(*, claim_id: int, wanted: Sequence[Wanted]) -> None:
    """Add reservations to a claim, all or none. Raises NotEnoughFree, or Refusal for what it holds already."""
    with transaction.atomic(durable=True):
        lock_claim(claim_id)
        _lock_cones({line.cone_id for line in wanted})
        held = set(Reservation.objects.filter(claim_id=claim_id).values_list("cone_id", "use"))
        if held & {(line.cone_id, line.use) for line in wanted}:
            raise Refusal("Yarn of the same cone is reserved for the same use already. Release it first.")
        take(claim_id=claim_id, wanted=wanted)


def release(*, claim_id: int) -> None:
    """Give back all that a claim holds, and forget its shortages."""
    with transaction.atomic(durable=True):
        lock_holdings(claim_id)
        give_back(claim_id=claim_id)


def lock_holdings(
    claim_id: int, shade_ids: Collection[int] = (), *, also: Collection[int] = ()
) -> list[Cone]:
    """Lock the live cones of these shades and every cone the claim holds; return the live ones.

    Inside the caller's transaction. The claim's own row is locked first, so that two pages that reserve
    for one claim go one after the other; with it those of the claims in `also`, by primary key, and of what they
    hold too every cone; then all cones in one statement, by primary key.
    """
    claims = {claim_id, *also}
    for one in sorted(claims):
        lock_claim(one)
    held = set(Reservation.objects.filter(claim_id__in=claims).values_list("cone_id", flat=True))
    of_shades = set(Cone.objects.filter(shade_id__in=shade_ids, retired_at=None).values_list("pk", flat=True))
    locked = _lock_cones(held | of_shades)
    return [cone for cone in locked if cone.pk in of_shades and cone.retired_at is None]


def lock_claim(claim_id: int) -> None:
    """Lock a claim, before any cone, so that two pages change its holdings one after the other."""
    Claim.objects.select_for_update(no_key=True).get(pk=claim_id)


def _lock_cones(ids: Collection[int]) -> list[Cone]:
    locked = Cone.objects.select_for_update(no_key=True).filter(pk__in=ids).order_by("pk")
    return list(locked.only("pk", "retired_at"))


def give_back(*, claim_id: int, shade_ids: Collection[int] | None = None) -> None:
    """Undo a claim's reservations, of these shades or of all, on cones that the caller has locked, whatever their
    number by one UPDATE."""
    held = Reservation.objects.filter(claim_id=claim_id)
    missed = Shortage.objects.filter(claim_id=claim_id)
    if shade_ids is not None:
        held, missed = held.filter(cone__shade__in=shade_ids), missed.filter(shade__in=shade_ids)
    of_cone = held.filter(cone=OuterRef("pk")).order_by().values("cone").annotate(sum=Sum("mass_mg"))
    Cone.objects.filter(pk__in=held.values("cone")).update(
        reserved_mg=F("reserved_mg") - Coalesce(Subquery(of_cone.values("sum")), 0)
    )
    held.delete()
    missed.delete()


# By hand, since it is run once a line: the ORM takes thirty times as long to compile it as the database to do it.
_TAKE = """
UPDATE stash_cone SET reserved_mg = reserved_mg + %s
WHERE id = %s AND retired_at IS NULL AND on_hand_mg >= reserved_mg + %s
"""


def take(*, claim_id: int, wanted: Sequence[Wanted], missing: Sequence[Missing] = ()) -> None:
    """Reserve on cones that the caller has locked. Raises NotEnoughFree; the caller's transaction rolls back."""
    now = timezone.now()
    for line in wanted:
        with connection.cursor() as cursor:
            cursor.execute(_TAKE, [line.mass_mg, line.cone_id, line.mass_mg])
            taken = cursor.rowcount
        if not taken:
            cone = Cone.objects.filter(pk=line.cone_id).first()
            if cone is None:
                raise Refusal("There is no such cone any more.")
            raise NotEnoughFree(cone.code, line.mass_mg, 0 if cone.retired_at else cone.free_mg)
    Reservation.objects.bulk_create(
        Reservation(
            claim_id=claim_id,
            cone_id=line.cone_id,
            use=line.use,
            ends=line.ends,
            length_um=line.length_um,
            mass_mg=line.mass_mg,
            made_at=now,
        )
        for line in wanted
    )
    Shortage.objects.bulk_create(
        Shortage(
            claim_id=claim_id,
            shade_id=line.shade_id,
            ends=line.ends,
            length_um=line.length_um,
            mass_mg=line.mass_mg,
            made_at=now,
        )
        for line in missing
    )


def make_claim(*, name: str, need_on: date | None = None, rank: int = 5) -> Claim:
    """Raises ValidationError naming the field."""
    claim = Claim(name=name.strip(), need_on=need_on, rank=rank, made_at=timezone.now())
    claim.full_clean()
    claim.save()
    return claim
