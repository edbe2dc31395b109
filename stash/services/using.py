"""What a claim really used: planned, then wound, then weighed, each in place of the one before.

A worked example. 100 g of warp and 60 g of weft are reserved on a cone of 500 g. Marking the warp as wound
turns the warp's reservation into an entry of -100 g; 60 g stay reserved. At the end the cone is weighed back
with 347 g: an entry of -53 g, and the weft's reservation goes. The claim used 153 g, by two entries.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F, Sum

from stash.models import Cone, Entry, EntryKind, Person, Reservation
from stash.models.claim import Use
from stash.services.locking import lock_cones
from stash.services.refusal import Refusal
from stash.services.reserving import lock_claim, lock_holdings
from stash.services.weighing import check_masses, record


@dataclass(frozen=True, slots=True)
class Back:
    """What the scale says of a cone that comes back: with its core (`gross`), or of the yarn alone."""

    scale_mg: int
    gross: bool


def used_mg(*, claim_id: int) -> dict[int, int]:
    """What a claim has used, in mg by cone: what its entries add up to, those taken back among them."""
    sums = Entry.objects.filter(claim_id=claim_id).order_by().values("cone").annotate(sum=Sum("change_mg"))
    return {row["cone"]: -row["sum"] for row in sums}


def is_begun(*, claim_id: int) -> bool:
    """Has yarn gone off the shelf for this claim?"""
    standing = Entry.objects.filter(claim_id=claim_id, undone_by=None).exclude(kind=EntryKind.UNDONE)
    return standing.exists()


@transaction.atomic
def take_as_wound(*, claim_id: int, by: Person) -> list[Entry]:
    """Turn what is reserved as warp into entries: it is wound, so it is on the shelf no more. Raises Refusal.

    The figures are those of the plan, so the entries count as estimates until the cones are weighed back.
    """
    lock_holdings(claim_id)
    lines = list(Reservation.objects.filter(claim_id=claim_id, use=Use.WARP).select_related("claim"))
    if not lines:
        raise Refusal("No warp is reserved, so there is none to mark as wound.")
    cones = lock_cones(line.cone_id for line in lines)
    entries = []
    for line in sorted(lines, key=lambda one: one.cone_id):
        cone = cones[line.cone_id]
        if line.mass_mg > cone.on_hand_mg:
            raise Refusal(
                f"Cone {cone.code} holds less than was reserved as warp. Weigh back what is left on it instead."
            )
        _let_go(cone, [line])
        entries.append(
            record(
                cone=cone,
                kind=EntryKind.WOUND,
                after_mg=cone.on_hand_mg - line.mass_mg,
                by=by,
                reason=f"warp of {line.claim.name}, {line.ends} end{'' if line.ends == 1 else 's'}"[:200],
                claim_id=claim_id,
                is_estimate=True,
            )
        )
    return entries


@transaction.atomic
def weigh_back(*, claim_id: int, backs: Mapping[int, Back], by: Person) -> list[Entry]:
    """Weigh cones after use, all or none: the difference is what the claim used beyond what is entered already.

    Whatever the claim has reserved on these cones goes, warp that was never marked as wound with it, since
    the scale has counted it. Raises Refusal with the cone's key as field: "cone-7".
    """
    if not backs:
        raise Refusal("Give what the scale says of one cone at least.")
    lock_claim(claim_id)
    cones = lock_cones(backs)
    lines = list(Reservation.objects.filter(claim_id=claim_id, cone_id__in=backs))
    used = used_mg(claim_id=claim_id)
    ours = {line.cone_id for line in lines} | set(used)
    entries = []
    for pk in sorted(backs):
        cone, back, field = cones[pk], backs[pk], f"cone-{pk}"
        if pk not in ours:
            raise Refusal(f"Cone {cone.code} gave nothing to this.", field=field)
        if cone.retired_at:
            raise Refusal(f"Cone {cone.code} is retired. Bring it back before weighing it.", field=field)
        net_mg = _net_mg(cone, back, field)
        if net_mg > cone.on_hand_mg + max(0, used.get(pk, 0)):
            raise Refusal(
                "That is more yarn than was on the cone before. Check the figure, and whether the core is in "
                "it; if it is right, weigh the cone on its own page first.",
                field=field,
            )
        _let_go(cone, [line for line in lines if line.cone_id == pk])
        entries.append(
            record(
                cone=cone,
                kind=EntryKind.WEIGHED,
                after_mg=net_mg,
                by=by,
                reason="weighed back",
                gross_mg=back.scale_mg if back.gross else None,
                core_mg=cone.core_mg if back.gross else None,
                claim_id=claim_id,
            )
        )
    return entries


def _net_mg(cone: Cone, back: Back, field: str) -> int:
    check_masses(scale_mg=back.scale_mg, core_mg=None, field=field)
    if not back.gross:
        return back.scale_mg
    if cone.core_mg is None:
        raise Refusal("The core of this cone is not known: weigh the yarn alone.", field=field)
    if back.scale_mg < cone.core_mg:
        raise Refusal("With its core the cone cannot weigh less than the core alone.", field=field)
    return back.scale_mg - cone.core_mg


def _let_go(cone: Cone, lines: list[Reservation]) -> None:
    """Give back these reservations of a locked cone."""
    mass_mg = sum(line.mass_mg for line in lines)
    Reservation.objects.filter(pk__in=[line.pk for line in lines]).delete()
    Cone.objects.filter(pk=cone.pk).update(reserved_mg=F("reserved_mg") - mass_mg)
    cone.reserved_mg -= mass_mg
