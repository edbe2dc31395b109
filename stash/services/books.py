"""Do the books agree with themselves? Balances against ledger, reservations against cones, guards in place."""

from dataclasses import dataclass

from django.db import DEFAULT_DB_ALIAS, transaction
from django.db.models import F, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce

from stash.models import Cone, Entry, FibreShare, Reservation, guards


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that does not agree, in words. `cone_id` where rebuilding that cone's balances mends it."""

    words: str
    cone_id: int | None = None


def _with_sums():
    """Every cone with what its ledger and its reservations add up to, and what the last entry says."""
    entries = (
        Entry.objects.filter(cone=OuterRef("pk")).order_by().values("cone").annotate(sum=Sum("change_mg"))
    )
    held = (
        Reservation.objects.filter(cone=OuterRef("pk")).order_by().values("cone").annotate(sum=Sum("mass_mg"))
    )
    last = Entry.objects.filter(cone=OuterRef("pk")).order_by("-pk")
    return Cone.objects.annotate(
        ledger_mg=Coalesce(Subquery(entries.values("sum")), 0),
        held_mg=Coalesce(Subquery(held.values("sum")), 0),
        last_mg=Subquery(last.values("after_mg")[:1]),
    )


def check_books(using: str = DEFAULT_DB_ALIAS) -> list[Fault]:
    """Every fault found, in words; an empty list when the books agree."""
    faults = [
        Fault(f"The guard {name} of the ledger is missing. Run migrate to make it anew.")
        for name in guards.missing(using)
    ]
    wrong = ~Q(ledger_mg=F("on_hand_mg")) | ~Q(held_mg=F("reserved_mg")) | ~Q(last_mg=F("on_hand_mg"))
    for cone in _with_sums().filter(wrong | Q(last_mg=None)).order_by("pk"):
        if cone.last_mg is None:
            faults.append(Fault(f"Cone {cone.code} has no entry in the ledger.", cone.pk))
        if cone.ledger_mg != cone.on_hand_mg:
            faults.append(
                Fault(
                    f"Cone {cone.code} shows {cone.on_hand_mg} mg, its ledger adds up to {cone.ledger_mg} mg.",
                    cone.pk,
                )
            )
        elif cone.last_mg is not None and cone.last_mg != cone.on_hand_mg:
            faults.append(
                Fault(
                    f"Cone {cone.code} shows {cone.on_hand_mg} mg, its last entry says {cone.last_mg} mg.",
                    cone.pk,
                )
            )
        if cone.held_mg != cone.reserved_mg:
            faults.append(
                Fault(
                    f"Cone {cone.code} shows {cone.reserved_mg} mg reserved, its reservations add up to {cone.held_mg} mg.",
                    cone.pk,
                )
            )
    faults += [
        Fault(f"Cone {cone.code} is of the shade {cone.shade}, its lot {cone.lot} is of another.")
        for cone in Cone.objects.exclude(lot=None)
        .exclude(lot__shade=F("shade"))
        .select_related("shade", "lot")
    ]
    shares = FibreShare.objects.values("yarn__name").annotate(sum=Sum("percent")).exclude(sum=100)
    faults += [
        Fault(f"The fibres of {row['yarn__name']} add up to {row['sum']} %.")
        for row in shares.order_by("yarn__name")
    ]
    return faults


@transaction.atomic
def rebuild_balances() -> int:
    """Set every cone's balances to what ledger and reservations add up to; how many cones changed."""
    list(Cone.objects.select_for_update().order_by("pk").values_list("pk", flat=True))
    changed = 0
    for cone in _with_sums().filter(~Q(ledger_mg=F("on_hand_mg")) | ~Q(held_mg=F("reserved_mg"))):
        cone.on_hand_mg, cone.reserved_mg = cone.ledger_mg, cone.held_mg
        cone.save(update_fields=["on_hand_mg", "reserved_mg"])
        changed += 1
    return changed
