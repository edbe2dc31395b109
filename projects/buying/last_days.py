"""The last day on which each shade can be ordered for the job that wants it."""

from dataclasses import dataclass
from datetime import date

from projects.buying.deciding import decide_all
from projects.buying.gathering import gather
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
    """The last day to order: None where the winding day or the supplier's time is not known, or nobody sells it."""
    supplier_id: int | None
    supplier_name: str
    late_days: int
    """Days since the last day to order; 0 while there is time."""
    order_id: int | None
    """An order being written that covers it, once it is sent by that day."""
    no_more: bool
    """It is no more made, so that nothing can be ordered."""


def last_order_days(today: date) -> list[LastDay]:
    """By day, what can be ordered no longer or by no known day last. Only what is short, not what lacks its buffer.

    A fixed number of queries.
    """
    scene = gather(today, jobs_only=True)
    asking, _ = decide_all(scene)
    asking = [one for one in asking if any(not short.tight for short in one.shorts)]
    names = {
        pk: rest
        for pk, *rest in Shade.objects.filter(pk__in=[one.shade_id for one in asking])
        .order_by()
        .values_list("pk", "name", "yarn__name", "colour")
    }
    found = []
    for one in asking:
        name, yarn, colour = names[one.shade_id]
        job = one.decision.job or next(short for short in one.shorts if not short.tight)
        supplier_id, last = None, None
        if one.chosen:
            supplier_id = one.chosen.offered.supplier_id
            last = one.chosen.times.last_day_for(job.on) if job.on else None
        elif one.covered and one.decision.by == "job":
            last = one.decision.order_by
        found.append(
            LastDay(
                one.shade_id,
                name,
                yarn,
                colour,
                job.job_id,
                job.name,
                job.on,
                last,
                supplier_id,
                scene.suppliers[supplier_id].name if supplier_id else "",
                max(0, (today - last).days) if last else 0,
                one.around.written[0].order_id if one.covered and one.around.written else None,
                one.around.no_more_on is not None,
            )
        )
    return sorted(found, key=lambda each: (each.day is None, each.day or each.on or date.max, each.shade_id))
