"""Stocktakes: begin, count, settle each difference, close.

Nothing changes the books while cones are counted: a count is kept beside them until somebody settles it.
Locks are taken in one order: the stocktake, then cones by primary key.
"""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from django.db import transaction
from django.utils import timezone

from stash.calc.difference import Weighed
from stash.models import Cone, Count, CountKey, Entry, EntryKind, Finding, Person, Stocktake
from stash.services.locking import lock_cone
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
from stash.services.weighing import check_masses, record

KEY = re.compile(r"[0-9A-Za-z-]{16,40}")
# Accepted in one transaction: a long shelf does not keep every other writer waiting.
AT_ONCE = 100
OF_NOISE = "within noise: moisture and scale"


class Taken(StrEnum):
    """What became of a count that was sent."""

    KEPT = "kept"
    REPLACED = "replaced"
    OLDER = "older"
    AGAIN = "again"


@dataclass(frozen=True, slots=True)
class Figure:
    """What somebody says of one cone. `core_mg` only counts where the cone's core is not known."""

    finding: str = Finding.WEIGHED
    scale_mg: int | None = None
    gross: bool = True
    core_mg: int | None = None
    is_estimate: bool = False
    note: str = ""


@transaction.atomic
def begin(*, place_id: int | None, by: Person, note: str = "") -> Stocktake:
    """Open a stocktake of a place, or of the whole shelf (None). Raises Refusal, or ValidationError."""
    stocktake = Stocktake(place_id=place_id, by=by, began_at=timezone.now(), note=note.strip())
    standing = stocktake.place.name if stocktake.place else "the shelf"
    cones = Cone.objects.live()
    if not (cones.filter(place=place_id) if place_id else cones).exists():
        raise Refusal(f"No cone stands on {standing}, so there is nothing to count.", field="place")
    save_checked(stocktake)
    return stocktake


def lock_stocktake(pk: int) -> Stocktake:
    """The stocktake, locked: what is sent to it comes in one after the other. Raises Refusal if there is none."""
    stocktake = Stocktake.objects.select_for_update(of=("self",), no_key=True).filter(pk=pk).first()
    if stocktake is None:
        raise Refusal("There is no such stocktake any more.")
    return stocktake


@transaction.atomic
def count(
    *,
    stocktake_id: int,
    cone_id: int,
    key: str,
    figure: Figure,
    by: Person,
    age: timedelta = timedelta(0),
) -> tuple[Taken, Count]:
    """Keep what was found of a cone, once for every `key`. Raises Refusal, or ValidationError naming the field.

    `age` is how long ago it was found, since a page without a connection sends later; clocks of phones are not
    asked. Of two unsettled counts of one cone the one found later stands, whichever comes first.
    """
    if not KEY.fullmatch(key):
        raise Refusal("The key must be 16 to 40 letters, figures or hyphens.", field="key")
    stocktake = lock_stocktake(stocktake_id)
    known = CountKey.objects.filter(key=key).select_related("count").first()
    if known:
        if (known.count.stocktake_id, known.count.cone_id) != (stocktake_id, cone_id):
            raise Refusal("This key belongs to the count of another cone.", field="key")
        return Taken.AGAIN, known.count
    if stocktake.closed_at:
        raise Refusal(
            f"The stocktake was closed on {_day(stocktake.closed_at)}. Weigh the cone on its own page."
        )
    cone = lock_cone(cone_id)
    if cone.retired_at:
        raise Refusal(f"Cone {cone.code} was retired on {_day(cone.retired_at)}; it is on no shelf.")
    net_mg = _net_mg(cone, figure)
    found_at = max(stocktake.began_at, timezone.now() - max(age, timedelta(0)))
    standing = Count.objects.filter(stocktake=stocktake, cone=cone).first()
    if standing and standing.settled_at:
        raise Refusal(
            f"What was counted of cone {cone.code} is settled already. Weigh the cone on its own page."
        )
    if standing and standing.counted_at > found_at:
        CountKey.objects.create(key=key, count=standing)
        return Taken.OLDER, standing
    kept = standing or Count(stocktake=stocktake, cone=cone)
    weighed = figure.finding == Finding.WEIGHED
    kept.finding = figure.finding
    kept.books_mg = _books_mg(cone, found_at)
    kept.scale_mg, kept.net_mg = (figure.scale_mg, net_mg) if weighed else (None, None)
    kept.is_gross = figure.gross if weighed else True
    kept.is_estimate = figure.is_estimate if weighed else False
    kept.note = figure.note.strip()
    kept.counted_at, kept.by = found_at, by
    kept.full_clean(exclude=["stocktake", "cone", "by"])
    kept.save()
    CountKey.objects.create(key=key, count=kept)
    return Taken.REPLACED if standing else Taken.KEPT, kept


def _net_mg(cone: Cone, figure: Figure) -> int | None:
    """The yarn that the scale's figure gives; None where nothing was weighed."""
    if figure.finding == Finding.ABSENT:
        return None
    if figure.finding != Finding.WEIGHED or figure.scale_mg is None:
        raise Refusal("Give what the scale says, or say that the cone is not here.", field="scale")
    check_masses(scale_mg=figure.scale_mg, core_mg=figure.core_mg, field="scale")
    if not figure.gross:
        return figure.scale_mg
    core_mg = figure.core_mg if cone.core_mg is None else cone.core_mg
    if core_mg is None:
        raise Refusal("Say what the empty core weighs, or weigh the yarn alone.", field="core")
    if figure.scale_mg < core_mg:
        raise Refusal("With its core the cone cannot weigh less than the core alone.", field="scale")
    return figure.scale_mg - core_mg


def _books_mg(cone: Cone, at: datetime) -> int:
    """What the books said of a cone then: a count may come long after it was made."""
    if not cone.entries.filter(at__gt=at).exists():
        return cone.on_hand_mg
    before = cone.entries.filter(at__lte=at).first()
    return before.after_mg if before else 0


def net_now_mg(count: Count) -> int | None:
    """The yarn that a count gives by what is known of the cone's core now; None where that cannot be.

    A cone that was not there has none. A core that was put right since changes what the scale's figure means.
    """
    if count.finding != Finding.WEIGHED:
        return 0
    if not count.is_gross or count.cone.core_mg is None:
        return count.net_mg
    net_mg = count.scale_mg - count.cone.core_mg
    return net_mg if net_mg >= 0 else None


def is_stale(count: Count) -> bool:
    """Has the cone been weighed, used or put right since? Of a count read `with_changes`."""
    return count.changed_at is not None or count.cone.on_hand_mg != count.books_mg


def as_weighed(count: Count, division_mg: int) -> Weighed | None:
    """The difference to the books as they are now, for calc; None where nothing was weighed.

    Reads the yarn's fibres, which the caller has prefetched.
    """
    net_mg = net_now_mg(count)
    if count.finding != Finding.WEIGHED or net_mg is None:
        return None
    cone = count.cone
    return Weighed(
        books_mg=cone.on_hand_mg,
        scale_mg=count.scale_mg,
        net_mg=net_mg,
        is_gross=count.is_gross,
        core_mg=cone.core_mg if cone.core_mg is not None else count.core_mg,
        fibres=tuple((share.fibre, share.percent) for share in cone.shade.yarn.fibres.all()),
        is_estimate=count.is_estimate,
        division_mg=division_mg,
    )


@transaction.atomic
def settle(
    *, count_id: int, accept: bool, by: Person, reason: str = "", confirmed: bool = False
) -> tuple[bool, Count]:
    """Bring the books to what was counted, or leave them as they are with a reason. True if it was done now.

    A count that is settled already is left as it is. More yarn than the books know, and a cone that was not there,
    need a reason; a count that is stale needs to be `confirmed`. Raises Refusal.
    """
    found = Count.objects.filter(pk=count_id).values_list("stocktake_id", "cone_id").first()
    if found is None:
        raise Refusal("There is no such count any more.")
    lock_stocktake(found[0])
    cone = lock_cone(found[1])
    count = Count.objects.with_changes().get(pk=count_id)
    count.cone = cone
    if count.settled_at:
        return False, count
    _settle(count, accept=accept, by=by, reason=reason.strip(), confirmed=confirmed)
    return True, count


def _settle(count: Count, *, accept: bool, by: Person, reason: str, confirmed: bool) -> None:
    """Of a count whose stocktake and cone are locked."""
    now = timezone.now()
    if accept:
        count.entry = _bring_books_to(count, by=by, reason=reason, confirmed=confirmed, now=now)
    elif not reason:
        raise Refusal("Say why the books stay as they are.", field="reason")
    count.reason, count.settled_at, count.settled_by = reason, now, by
    count.full_clean(exclude=["stocktake", "cone", "by", "settled_by", "entry"])
    count.save()


def _bring_books_to(count: Count, *, by: Person, reason: str, confirmed: bool, now: datetime) -> Entry:
    cone, stale = count.cone, is_stale(count)
    if cone.retired_at:
        raise Refusal(f"Cone {cone.code} is retired by now. Its books can only be left as they are.")
    if stale and not confirmed:
        raise Refusal(
            "The books changed after this cone was counted. Count it again, or tick that it still is so.",
            field="confirmed",
        )
    net_mg = net_now_mg(count)
    if net_mg is None:
        raise Refusal("The core is heavier than the whole cone was when counted. Count it again.")
    weighed = count.finding == Finding.WEIGHED
    if not weighed and not reason:
        raise Refusal("Say what became of it: used up, given away, moth.", field="reason")
    if net_mg > cone.on_hand_mg and not reason:
        raise Refusal(
            "That is more yarn than the books know. Give a reason (damp, wound back, core was wrong).",
            field="reason",
        )
    gross = weighed and count.is_gross
    core_mg = count.scale_mg - net_mg if gross else None
    if gross and cone.core_mg is None:
        # As at a weighing: a form opened before would put the unknown core back.
        cone.core_mg = core_mg
        cone.version += 1
        cone.save(update_fields=["core_mg", "version"])
    return record(
        cone=cone,
        kind=EntryKind.COUNTED,
        after_mg=net_mg,
        by=by,
        reason=reason,
        gross_mg=count.scale_mg if gross else None,
        core_mg=core_mg,
        at=now if stale else count.counted_at,
        is_estimate=count.is_estimate,
    )


def settle_noise(*, stocktake_id: int, by: Person, division_mg: int) -> int:
    """Accept every count that differs from the books by noise only; how many. Stale ones are left for people."""
    done = 0
    pks = list(
        Count.objects.unsettled()
        .filter(stocktake=stocktake_id, finding=Finding.WEIGHED)
        .order_by("cone")
        .values_list("pk", flat=True)
    )
    for start in range(0, len(pks), AT_ONCE):
        done += _settle_noise_of(stocktake_id, pks[start : start + AT_ONCE], by, division_mg)
    return done


@transaction.atomic
def _settle_noise_of(stocktake_id: int, pks: list[int], by: Person, division_mg: int) -> int:
    lock_stocktake(stocktake_id)
    list(
        Cone.objects.select_for_update(no_key=True)
        .filter(pk__in=Count.objects.filter(pk__in=pks).values("cone"))
        .order_by("pk")
        .values_list("pk", flat=True)
    )
    done = 0
    counts = Count.objects.unsettled().filter(pk__in=pks).with_changes().order_by("cone")
    for count in counts.select_related("cone__shade__yarn").prefetch_related("cone__shade__yarn__fibres"):
        weighed = as_weighed(count, division_mg)
        if weighed and weighed.is_noise and not is_stale(count) and not count.cone.retired_at:
            reason = OF_NOISE if weighed.difference_mg else ""
            _settle(count, accept=True, by=by, reason=reason, confirmed=False)
            done += 1
    return done


@transaction.atomic
def close(*, pk: int, by: Person) -> Stocktake:
    """Close it, and write down which cones were not counted. One that is closed is left as it is.

    Raises Refusal while counts wait to be settled.
    """
    stocktake = lock_stocktake(pk)
    if stocktake.closed_at:
        return stocktake
    waiting = stocktake.counts.unsettled().count()
    if waiting:
        them = "1 count waits" if waiting == 1 else f"{waiting} counts wait"
        raise Refusal(f"{them} to be settled. Accept or leave each, then close.")
    now = timezone.now()
    uncounted = stocktake.cones().exclude(pk__in=stocktake.counts.values("cone"))
    Count.objects.bulk_create(
        Count(
            stocktake=stocktake,
            cone_id=cone_pk,
            finding=Finding.PASSED,
            books_mg=on_hand_mg,
            counted_at=now,
            by=by,
            settled_at=now,
            settled_by=by,
        )
        for cone_pk, on_hand_mg in uncounted.values_list("pk", "on_hand_mg")
    )
    stocktake.closed_at, stocktake.closed_by = now, by
    stocktake.save(update_fields=["closed_at", "closed_by"])
    return stocktake


def _day(at: datetime) -> str:
    local = timezone.localtime(at)
    return f"{local.day} {local:%B %Y}"
