"""Taking an entry back: by a counter-entry, never by a change of the ledger.

Of a cone only the latest entry that still stands can be taken back; what was taken back before it, and what
only notes a place or a condition, does not stand in the way. Yarn that was wound over comes back on both
sides together, so the latest entry must be the same one on both.
"""

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from stash.models import Cone, Entry, EntryKind, Person, Role
from stash.models.ledger import NOTES
from stash.services.locking import lock_cones
from stash.services.refusal import Refusal
from stash.services.weighing import BY_SCALE, record

# Only an owner writes these, so only an owner takes them back.
OF_OWNERS = (EntryKind.CORRECTED, EntryKind.RETIRED, EntryKind.BROUGHT)


def standing(entries: "QuerySet[Entry]") -> "QuerySet[Entry]":
    """Entries that count, the latest first: not taken back, no counter-entry, no note without a change."""
    return (
        entries.exclude(kind=EntryKind.UNDONE)
        .filter(undone_by=None)
        .exclude(kind__in=NOTES)
        # As moves and conditions were written before they had kinds of their own.
        .exclude(kind__in=(EntryKind.CORRECTED, EntryKind.BROUGHT), change_mg=0, gross_mg=None)
        .order_by("-pk")
    )


def latest(cone: Cone) -> Entry | None:
    """The entry of this cone that could be taken back next."""
    return standing(cone.entries.all()).first()


def belonging(entry: Entry) -> list[Entry]:
    """The entry with all that were written in one act with it on another cone, the oldest first."""
    root = entry.partner_id or entry.pk
    return list(Entry.objects.filter(Q(pk=root) | Q(partner_id=root)).order_by("pk"))


def why_not(entry: Entry, by: Person) -> str:
    """Why this latest entry of its cone cannot be taken back, in a sentence; "" if it can, as far as that cone goes."""
    if entry.kind == EntryKind.RECEIVED:
        return "It is the first entry of this cone. Retire the cone if it should not be here."
    if entry.cone.retired_at:
        return "The cone is retired. Bring it back instead."
    if entry.kind in OF_OWNERS and Role(by.role) != Role.OWNER:
        return "Only an owner takes back a correction or what was written off."
    return ""


@transaction.atomic
def take_back(*, entry_id: int, by: Person) -> Entry:
    """Write the counter-entry of an entry, and of all that belong to it; the one of that entry. Raises Refusal."""
    known = Entry.objects.select_related("cone").filter(pk=entry_id).first()
    if known is None:
        raise Refusal("There is no such entry.")
    together = belonging(known)
    cones = lock_cones(entry.cone_id for entry in together)
    if known.kind == EntryKind.UNDONE:
        raise Refusal("This entry takes another back. Enter anew what was meant.")
    if Entry.objects.filter(undoes__in=together).exists():
        raise Refusal("This entry was taken back already.")
    known.cone = cones[known.cone_id]
    if why := why_not(known, by):
        raise Refusal(why)
    for cone in cones.values():
        ours = [entry.pk for entry in together if entry.cone_id == cone.pk]
        heads = list(standing(cone.entries.all()).values_list("pk", flat=True)[: len(ours)])
        if sorted(ours, reverse=True) != heads:
            raise Refusal(
                f"Cone {cone.code} was changed again since. Only the latest entry of a cone can be taken back: "
                "take the later ones back first, or weigh the cone."
            )
    for cone in cones.values():
        falls_mg = sum(entry.change_mg for entry in together if entry.cone_id == cone.pk)
        if known.kind == EntryKind.OVER and falls_mg > cone.free_mg:
            raise Refusal(f"What was wound on to cone {cone.code} is reserved meanwhile. Release that first.")
    written = {entry.pk: _counter(entry, cones[entry.cone_id], by) for entry in reversed(together)}
    for cone in cones.values():
        _settle(cone, known)
    return written[known.pk]


def _counter(entry: Entry, cone: Cone, by: Person) -> Entry:
    if cone.retired_at:
        # Emptied by a joining that is taken back as a whole.
        cone.retired_at = None
        cone.version += 1
        cone.save(update_fields=["retired_at", "version"])
    return record(
        cone=cone,
        kind=EntryKind.UNDONE,
        after_mg=cone.on_hand_mg - entry.change_mg,
        by=by,
        reason=f"{entry.get_kind_display()} on {entry.at.day} {entry.at:%B %Y} taken back",
        claim_id=entry.claim_id,
        undoes=entry,
    )


def _settle(cone: Cone, known: Entry) -> None:
    """When it was last weighed, whether that was a guess, and its core, as the entries that still stand say."""
    left = list(standing(cone.entries.all()))
    scale = next((at for at, entry in enumerate(left) if entry.kind in BY_SCALE), None)
    cone.weighed_at = None if scale is None else left[scale].at
    cone.estimated = any(entry.is_estimate for entry in (left if scale is None else left[: scale + 1]))
    fields = ["weighed_at", "estimated"]
    if known.kind == EntryKind.CORRECTED and known.core_mg is not None:
        core_mg = next((entry.core_mg for entry in left if entry.core_mg is not None), cone.core_mg)
        cone.core_mg = core_mg
        # The core of no kind, unless it was of one that weighs so.
        if cone.core_kind and cone.core_kind.mass_mg != core_mg:
            cone.core_kind = None
        cone.version += 1
        fields += ["core_mg", "core_kind", "version"]
    if not left:
        # A package that came to be by the splitting that is taken back.
        cone.retired_at = timezone.now()
        cone.version += 1
        fields += ["retired_at", "version"]
    cone.save(update_fields=fields)
