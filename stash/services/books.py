"""Do the books agree with themselves? Balances against ledger, reservations against cones, guards in place."""

from dataclasses import dataclass

from django.db import DEFAULT_DB_ALIAS, transaction
from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery, Sum, Window
from django.db.models.functions import Coalesce

from stash.models import Cone, Entry, FibreShare, OrderLine, Reservation, guards
from stash.models import Count as StocktakeCount
from stash.services.ordering import lock_order
from stash.services.taking_in import count_in


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that does not agree, in words. `cone_id` where rebuilding that cone's balances mends it, `line_id` where
    rebuilding what came of that line of an order does."""

    words: str
    cone_id: int | None = None
    line_id: int | None = None


def check_books(using: str = DEFAULT_DB_ALIAS) -> list[Fault]:
    """Every fault found, in words; an empty list when the books agree."""
    return [*_guard_faults(using), *row_faults(using)]


def row_faults(using: str = DEFAULT_DB_ALIAS) -> list[Fault]:
    """The faults of what is written in the books, whatever guards them."""
    return [
        *_ledger_faults(using),
        *_balance_faults(using),
        *_undoing_faults(using),
        *_partner_faults(using),
        *_count_faults(using),
        *_lot_faults(using),
        *_fibre_faults(using),
        *_order_faults(using),
    ]


@transaction.atomic
def rebuild_balances() -> int:
    """Set every cone's balances to what ledger and reservations add up to; how many cones changed.

    What the ledger or the reservations themselves have wrong is left alone: no balance mends that.
    """
    list(Cone.objects.select_for_update(no_key=True).order_by("pk").values_list("pk", flat=True))
    changed = 0
    for cone in _with_sums(DEFAULT_DB_ALIAS).filter(_OFF):
        before = (cone.on_hand_mg, cone.reserved_mg)
        if _may_hold(cone, cone.ledger_mg):
            cone.on_hand_mg = cone.ledger_mg
        if _may_hold(cone, cone.held_mg):
            cone.reserved_mg = cone.held_mg
        if before != (cone.on_hand_mg, cone.reserved_mg):
            cone.save(update_fields=["on_hand_mg", "reserved_mg"])
            changed += 1
    return changed


@transaction.atomic
def rebuild_orders() -> int:
    """Set what came of every line of an order to the cones taken in for it; how many lines changed."""
    changed = 0
    for line in _lines_off(DEFAULT_DB_ALIAS):
        order = lock_order(line.order_id, None)
        line.refresh_from_db()
        count_in(order, line, line.cones.count() - line.came)
        changed += 1
    return changed


_OFF = Q(ledger_mg=None) | ~Q(ledger_mg=F("on_hand_mg")) | ~Q(held_mg=F("reserved_mg"))


def _with_sums(using: str) -> "QuerySet[Cone]":
    """Every cone with what its ledger (None without entries) and its reservations add up to."""
    entries = (
        Entry.objects.filter(cone=OuterRef("pk")).order_by().values("cone").annotate(sum=Sum("change_mg"))
    )
    held = (
        Reservation.objects.filter(cone=OuterRef("pk")).order_by().values("cone").annotate(sum=Sum("mass_mg"))
    )
    return Cone.objects.using(using).annotate(
        ledger_mg=Subquery(entries.values("sum")), held_mg=Coalesce(Subquery(held.values("sum")), 0)
    )


def _may_hold(cone: Cone, mass_mg: int | None) -> bool:
    """Can this be a balance of the cone? A retired one holds nothing, and none less than nothing."""
    return mass_mg is not None and mass_mg >= 0 and (mass_mg == 0 or cone.retired_at is None)


def _guard_faults(using: str) -> list[Fault]:
    return [
        Fault(f"The guard {name} of the ledger is missing. Run migrate to make it anew.")
        for name in guards.missing(using)
    ]


def _ledger_faults(using: str) -> list[Fault]:
    """The first entry of each cone after which the cone held something else than the entry says."""
    running = Window(Sum("change_mg"), partition_by=F("cone_id"), order_by=F("pk").asc())
    wrong = (
        Entry.objects.using(using)
        .annotate(running_mg=running)
        .filter(~Q(after_mg=F("running_mg")))
        .select_related("cone")
        .order_by("cone_id", "pk")
    )
    first = {entry.cone_id: entry for entry in reversed(list(wrong))}
    return [
        Fault(
            f"Cone {entry.cone.code}: the entry of {entry.at:%Y-%m-%d} says {entry.after_mg} mg were left; "
            f"the changes up to it add up to {entry.running_mg} mg."
        )
        for entry in sorted(first.values(), key=lambda entry: entry.cone_id)
    ]


def _balance_faults(using: str) -> list[Fault]:
    faults = []
    for cone in _with_sums(using).filter(_OFF | Q(retired_at__isnull=False, held_mg__gt=0)).order_by("pk"):
        if cone.ledger_mg is None:
            faults.append(Fault(f"Cone {cone.code} has no entry in the ledger."))
        elif cone.ledger_mg != cone.on_hand_mg:
            words = f"Cone {cone.code} shows {cone.on_hand_mg} mg, its ledger adds up to {cone.ledger_mg} mg."
            faults.append(Fault(words, cone.pk if _may_hold(cone, cone.ledger_mg) else None))
        if cone.held_mg != cone.reserved_mg:
            words = (
                f"Cone {cone.code} shows {cone.reserved_mg} mg reserved, its reservations add up to "
                f"{cone.held_mg} mg."
            )
            faults.append(Fault(words, cone.pk if _may_hold(cone, cone.held_mg) else None))
        if cone.retired_at and cone.held_mg:
            faults.append(Fault(f"Cone {cone.code} is retired, but {cone.held_mg} mg of it are reserved."))
    return faults


def _undoing_faults(using: str) -> list[Fault]:
    """What takes an entry back is of the same cone and as much the other way."""
    undoing = Entry.objects.using(using).exclude(undoes=None).select_related("cone", "undoes__cone")
    wrong = undoing.exclude(cone=F("undoes__cone"), change_mg=-F("undoes__change_mg"))
    return [
        Fault(
            f"Cone {entry.cone.code}: the entry of {entry.at:%Y-%m-%d} over {entry.change_mg:+} mg takes back "
            f"{entry.undoes.change_mg:+} mg of cone {entry.undoes.cone.code}."
        )
        for entry in wrong.order_by("pk")
    ]


def _partner_faults(using: str) -> list[Fault]:
    """Yarn that goes from one cone to another has an entry on each: less here, no less than that more there."""
    paired = Entry.objects.using(using).exclude(partner=None).select_related("cone", "partner__cone")
    return [
        Fault(
            f"Cone {entry.cone.code}: the entry of {entry.at:%Y-%m-%d} over {entry.change_mg:+} mg belongs together "
            f"with {entry.partner.change_mg:+} mg of cone {entry.partner.cone.code}, which is no other side of it."
        )
        for entry in paired.order_by("pk")
        if entry.cone_id == entry.partner.cone_id or entry.change_mg * entry.partner.change_mg > 0
    ]


def _count_faults(using: str) -> list[Fault]:
    """A count of a stocktake leads to an entry of the same cone."""
    wrong = (
        StocktakeCount.objects.using(using)
        .exclude(entry=None)
        .exclude(entry__cone=F("cone"))
        .select_related("cone", "entry__cone")
    )
    return [
        Fault(
            f"Cone {count.cone.code}: what was counted on {count.counted_at:%Y-%m-%d} was entered at cone "
            f"{count.entry.cone.code}."
        )
        for count in wrong.order_by("pk")
    ]


def _lot_faults(using: str) -> list[Fault]:
    strangers = Cone.objects.using(using).exclude(lot=None).exclude(lot__shade=F("shade"))
    return [
        Fault(f"Cone {cone.code} is of the shade {cone.shade}, its lot {cone.lot} is of another.")
        for cone in strangers.select_related("shade", "lot").order_by("pk")
    ]


def _lines_off(using: str) -> "QuerySet[OrderLine]":
    counted = OrderLine.objects.using(using).annotate(cone_count=Count("cones"))
    return counted.exclude(came=F("cone_count")).select_related("shade").order_by("pk")


def _order_faults(using: str) -> list[Fault]:
    """What came of a line is the cones taken in for it, which are of its shade, and came in its order's deliveries."""
    faults = [
        Fault(
            f"Order {line.order_id} says that {line.came} of {line.shade} came; {line.cone_count} cones were taken in "
            "for it.",
            line_id=line.pk,
        )
        for line in _lines_off(using)
    ]
    strangers = Cone.objects.using(using).exclude(order_line=None).exclude(order_line__shade=F("shade"))
    return faults + [
        Fault(
            f"Cone {cone.code} is of the shade {cone.shade}; order {cone.order_line.order_id}, for which it was taken "
            f"in, says {cone.order_line.shade}."
        )
        for cone in strangers.select_related("shade", "order_line__shade").order_by("pk")
    ]


def _fibre_faults(using: str) -> list[Fault]:
    shares = FibreShare.objects.using(using).order_by().values("yarn__name").annotate(sum=Sum("percent"))
    return [
        Fault(f"The fibres of {row['yarn__name']} add up to {row['sum']} %.")
        for row in shares.exclude(sum=100).order_by("yarn__name")
    ]
