"""What the shades of one plan are sold in, and which of it comes in time for its winding day: one query, and three
more where anything is sold."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from projects.buying.gathering import offered
from stash.calc.fibres import has_animal_fibre
from stash.calc.reorder.decision import Times
from stash.calc.reorder.put_ups import Offered
from stash.models import FibreShare, PutUp, Shade, Studio


@dataclass(frozen=True, slots=True)
class Sold:
    """`by_key` has those put-ups that come in time; where none does, those of unknown time, else the soonest."""

    by_key: Mapping[str, Sequence[Offered]] = field(default_factory=dict)
    put_ups: Mapping[int, PutUp] = field(default_factory=dict)
    times: Mapping[tuple[str, int], Times] = field(default_factory=dict)
    """By key and put-up."""
    currency: str = "EUR"
    """Of the studio, for suppliers that have none of their own."""


def sold_of(shades: Mapping[str, Shade], need_on: date | None, today: date) -> Sold:
    yarns = {shade.yarn_id for shade in shades.values()}
    found = PutUp.objects.sold().filter(yarn__in=yarns).select_related("supplier").prefetch_related("breaks")
    put_ups = {one.pk: one for one in found.order_by("pk")}
    if not put_ups:
        return Sold()
    studio = Studio.objects.only("quarantine_days", "currency").get()
    fibres: dict[int, set[str]] = defaultdict(set)
    for yarn_id, fibre in FibreShare.objects.filter(yarn__in=yarns).values_list("yarn_id", "fibre"):
        fibres[yarn_id].add(fibre)
    by_key: dict[str, list[Offered]] = {}
    times: dict[tuple[str, int], Times] = {}
    for key, shade in shades.items():
        quarantine = studio.quarantine_days if has_animal_fibre(fibres[shade.yarn_id]) else 0
        ranked: dict[tuple[int, ...], list[Offered]] = defaultdict(list)
        for one in put_ups.values():
            if one.yarn_id != shade.yarn_id or one.shade_id not in (None, shade.pk):
                continue
            of_them = Times(one.supplier.lead_days, one.supplier.late_days, quarantine)
            times[key, one.pk] = of_them
            own = one.supplier.currency in ("", studio.currency)
            ranked[(*_late(of_them, need_on, today), int(not own))].append(offered(one))
        if ranked:
            by_key[key] = ranked[min(ranked)]
    return Sold(by_key, put_ups, times, studio.currency)


def _late(times: Times, need_on: date | None, today: date) -> tuple[int, int]:
    """In time, then of a time that nobody knows, then the least late."""
    here = times.here_on(today)
    if here is None:
        return 1, 0
    days = max(0, (here - need_on).days) if need_on else 0
    return (2, days) if days else (0, 0)
