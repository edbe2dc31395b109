"""What the scale says: the one place where a cone's mass changes, each time with an entry."""

from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from stash.calc.quantity import MOST_MG
from stash.models import Cone, Entry, EntryKind, Person
from stash.services.locking import lock_cone
from stash.services.refusal import Refusal

# Entries whose figure stands for itself; all others say by how much it changed.
BY_SCALE = (EntryKind.RECEIVED, EntryKind.WEIGHED, EntryKind.COUNTED)
# A package heavier than this is no longer lifted onto a shelf: the unit was mistaken.
MOST_OF_A_CONE_MG = 100 * 1_000_000
# Cores weigh 6 to 110 g (common practice, no source); a hank may hang on anything.
MOST_OF_A_CORE_MG = 5 * 1_000_000

# Less than a quarter of what the books say is asked about: a figure may have been left out, or the unit mistaken.
FAR_BELOW = 4


class FarBelow(Refusal):
    """A weighing leaves `net_mg` where the books say `books_mg`, and nobody has said that it is so."""

    def __init__(self, *, net_mg: int, books_mg: int) -> None:
        super().__init__("That is far less yarn than the books know. Is it right?", field="scale")
        self.net_mg, self.books_mg = net_mg, books_mg


def check_masses(*, scale_mg: int, core_mg: int | None, field: str) -> None:
    """Refuse what no scale shows. `field` is the form's field for the scale, the core's is "core"."""
    for mass_mg, where in ((scale_mg, field), (core_mg or 0, "core")):
        if mass_mg < 0:
            raise Refusal("A weight cannot be below 0.", field=where)
        if mass_mg > MOST_MG:
            raise Refusal("That is more than 10,000 kg. Check the figure and its unit.", field=where)


def record(
    *,
    cone: Cone,
    kind: EntryKind,
    after_mg: int,
    by: Person,
    reason: str = "",
    gross_mg: int | None = None,
    core_mg: int | None = None,
    at: datetime | None = None,
    is_estimate: bool = False,
    claim_id: int | None = None,
    undoes: Entry | None = None,
    partner: Entry | None = None,
) -> Entry:
    """Bring a locked cone to `after_mg` and write the entry that says so. Inside the caller's transaction.

    `at` is when it happened, now unless told; entries are told in the order in which they happened.
    `is_estimate` marks a figure that no scale gave, `claim_id` says who used the yarn, `undoes` and `partner`
    what this takes back or is the other half of.
    """
    entry = new_entry(
        cone=cone,
        kind=kind,
        after_mg=after_mg,
        by=by,
        reason=reason,
        gross_mg=gross_mg,
        core_mg=core_mg,
        at=at or timezone.now(),
        is_estimate=is_estimate,
        claim_id=claim_id,
        undoes=undoes,
        partner=partner,
    )
    entry.full_clean(exclude=["cone", "by", "claim", "partner"])
    entry.save(force_insert=True)
    bring(cone, entry)
    cone.save(update_fields=["on_hand_mg", "weighed_at", "estimated"])
    return entry


def new_entry(*, cone: Cone, after_mg: int, **facts: Any) -> Entry:
    """The entry that takes a cone from what it holds to `after_mg`; neither is saved.

    With `bring` it is what `record` saves one by one, and an import many at once.
    """
    return Entry(cone=cone, change_mg=after_mg - cone.on_hand_mg, after_mg=after_mg, **facts)


def bring(cone: Cone, entry: Entry) -> None:
    """Let the cone, not saved yet, hold what the entry says."""
    cone.on_hand_mg = entry.after_mg
    if entry.kind in BY_SCALE:
        cone.weighed_at, cone.estimated = entry.at, entry.is_estimate
    elif entry.is_estimate:
        cone.estimated = True


@transaction.atomic
def weigh(
    *,
    cone_id: int,
    scale_mg: int,
    gross: bool,
    by: Person,
    reason: str = "",
    core_mg: int | None = None,
    at: datetime | None = None,
    is_estimate: bool = False,
    is_sure: bool = True,
) -> Entry:
    """Take a weighing of a cone, with its core (`gross`) or of the yarn alone.

    A core mass given with a gross weighing is kept with the cone. More yarn than the books know needs a reason; less may
    undercut reservations, which the pages then say. `is_estimate` marks a guess. Without `is_sure` and without a
    reason, a figure far below the books is refused once. Raises Refusal, FarBelow.
    """
    check_masses(scale_mg=scale_mg, core_mg=core_mg, field="scale")
    cone = lock_cone(cone_id)
    if cone.retired_at:
        raise Refusal(f"Cone {cone.code} is retired. Bring it back before weighing it.")
    if gross:
        core = cone.core_mg if core_mg is None else core_mg
        if core is None:
            raise Refusal("Say what the empty core weighs, or weigh the yarn alone.", field="core")
        if scale_mg < core:
            raise Refusal("With its core the cone cannot weigh less than the core alone.", field="scale")
        if core != cone.core_mg:
            # A form opened before would put the old core back, and with it a false correction.
            cone.core_mg = core
            cone.version += 1
            cone.save(update_fields=["core_mg", "version"])
        net_mg = scale_mg - core
    else:
        core, net_mg = None, scale_mg
    if net_mg > cone.on_hand_mg and not reason.strip():
        raise Refusal(
            "That is more yarn than the books know. Give a reason (damp, wound back, core was wrong), "
            "or check whether the core was weighed as yarn.",
            field="reason",
        )
    if not is_sure and not reason.strip() and net_mg * FAR_BELOW < cone.on_hand_mg:
        raise FarBelow(net_mg=net_mg, books_mg=cone.on_hand_mg)
    return record(
        cone=cone,
        kind=EntryKind.WEIGHED,
        after_mg=net_mg,
        by=by,
        reason=reason.strip(),
        gross_mg=scale_mg if gross else None,
        core_mg=core,
        at=at,
        is_estimate=is_estimate,
    )
