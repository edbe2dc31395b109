"""The last day on which each shade can be ordered for the job that wants it."""

from dataclasses import dataclass
from datetime import date

from projects.buying.deciding import Asking, decide_all
from projects.buying.gathering import Scene, gather
from stash.calc.reorder.decision import Decision, Short
from stash.models import Shade


@dataclass(frozen=True, slots=True)
class LastDay:
    """A shade that a planned project goes without unless it is ordered in time."""

    shade_id: int
    shade_name: str
    yarn_name: str
    colour: str
    project_id: int
    project_name: str
    on: date | None
    """The winding day, if there is one."""
    day: date | None
    """The last day to order: None where the winding day or the supplier's time is not known, nobody sells it, or it is on
    order already."""
    supplier_id: int | None
    supplier_name: str
    late_days: int
    """Days since the last day to order; 0 while there is time."""
    order_id: int | None
    """An order being written that covers it, once it is sent by that day; with no day to order one that is late, or of
    which nobody knows when it comes, and that is to be asked after."""
    no_more: bool
    """It is no more made, so that nothing can be ordered."""


def last_order_days(today: date) -> list[LastDay]:
    """By day, what can be ordered no longer or by no known day last; of each shade all jobs that are short, not those
    that lack their buffer.

    Decided among all shades, as Buying decides: of whom one is bought hangs on the others. A fixed number of queries.
    """
    scene = gather(today)
    asking, _ = decide_all(scene)
    asking = [one for one in asking if any(not short.tight for short in one.shorts)]
    names = {
        pk: rest
        for pk, *rest in Shade.objects.filter(pk__in=[one.shade_id for one in asking])
        .order_by()
        .values_list("pk", "name", "yarn__name", "colour")
    }
    found = [
        _last_day(scene, one, short, *names[one.shade_id], today)
        for one in asking
        for short in one.shorts
        if not short.tight
    ]
    return sorted(found, key=lambda each: (each.day is None, each.day or each.on or date.max, each.shade_id))


def _last_day(
    scene: Scene, one: Asking, short: Short, name: str, yarn: str, colour: str, today: date
) -> LastDay:
    supplier_id, last, order_id = None, None, None
    # No order brings one very cone that is wished for.
    helped = all(job.need.wish != "cone" for job in one.around.jobs if job.id == short.job_id)
    if one.chosen:
        supplier_id = one.chosen.offered.supplier_id
        last = one.chosen.times.last_day_for(short.on) if short.on and helped else None
    elif one.covered and one.around.written:
        order_id = one.around.written[0].order_id
        last = _as_decided(one.decision, short)
    elif one.covered:
        order_id = one.around.unsure[0]
    return LastDay(
        one.shade_id,
        name,
        yarn,
        colour,
        short.job_id,
        short.name,
        short.on,
        last,
        supplier_id,
        scene.suppliers[supplier_id].name if supplier_id else "",
        max(0, (today - last).days) if last else 0,
        order_id,
        one.around.no_more_on is not None,
    )


def _as_decided(decision: Decision, short: Short) -> date | None:
    """As long before its winding day as the job that decides is ordered before its own."""
    job, order_by = decision.job, decision.order_by
    if decision.by != "job" or not (job and job.on and order_by and short.on):
        return None
    return short.on - (job.on - order_by)
