"""What is known around a plan when ways out of a shortage are sought: a fixed number of queries, whatever the studio."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from django.db.models import F
from django.utils import timezone

from projects.buying.sold import Sold, sold_of
from projects.judging import NEED_COLUMNS
from projects.models import Dressing, Project, ProjectShade
from projects.stock import ShelfReader, held_in
from stash.calc.grist import Grist
from stash.calc.loom_room import LEAST_CLEARANCE_UM
from stash.calc.most import Stock
from stash.calc.packing import Need
from stash.calc.ways.less_waste import USUAL_TIED_ON_UM, Waste
from stash.calc.ways.moving import Demand, Later
from stash.calc.ways.near_shade import Neighbour, near_in_grist
from stash.calc.ways.ways_out import Surroundings
from stash.calc.width import work_width
from stash.calc.writing import Measures
from stash.models import Cone, FibreShare, Loom, Reservation, Shade

USUAL_TIED_ON = "tied_on"
STEPS = {"imperial": 3_175, "metric": 1_000}
"""To what a width is rounded down: an eighth of an inch, a millimetre."""


@dataclass(frozen=True, slots=True)
class Dressed:
    """A loom and a way of dressing it, with what is lost so; no loom for the usual figure of tying on."""

    loom: Loom | None
    dressing: Dressing


@dataclass(frozen=True, slots=True)
class Around:
    """The surroundings as calc takes them, and what words and trials need beside them."""

    facts: Surroundings
    shades: Mapping[str, Shade]
    """Of the plan, by key."""
    others: Mapping[int, Shade] = field(default_factory=dict)
    """Neighbours by their key in the books."""
    later: Mapping[int, Project] = field(default_factory=dict)
    """Later projects by their claim."""
    wastes: Mapping[str, Dressed] = field(default_factory=dict)
    sold: Sold = field(default_factory=Sold)
    lot_names: Mapping[int, str] = field(default_factory=dict)
    loom: Loom | None = None
    others_hold: bool = False
    """Something of these shades is put aside for somebody else."""


def around(project: Project, measures: Measures) -> Around:
    """Of a saved project with its shades."""
    rows = {row.key: row for row in project.shades.all()}
    shades = {key: row.shade for key, row in rows.items()}
    grists = {key: row.grist for key, row in rows.items()}
    others = _neighbours(shades, grists)
    plan_ids = [shade.pk for shade in shades.values()]
    reserved = list(
        Reservation.objects.filter(cone__shade_id__in=plan_ids)
        .order_by("pk")
        .values_list("claim_id", "cone_id", "mass_mg", "cone__shade_id")
    )
    held = held_in((claim, cone, mass) for claim, cone, mass, _ in reserved)
    reader = ShelfReader([*plan_ids, *others], held)
    claim_id = project.judged_as
    stock = {key: Stock(grists[key], reader.of_shade(shade.pk, claim_id)) for key, shade in shades.items()}
    later = _later(project, {claim for claim, *_ in reserved} - {claim_id})
    looms = list(Loom.objects.live())
    loom = next((one for one in looms if one.pk == project.loom_id), None)
    usable = _usable_of_own(loom, work_width(project.plan).in_reed_um) if loom else None
    wastes = _wastes(looms, project, usable)
    free = {pk: reader.of_shade(pk, None) for pk in others}
    used = set(plan_ids)
    sold = sold_of(shades, project.need_on, timezone.localdate())
    facts = Surroundings(
        stock=stock,
        colours={key: shade.colour for key, shade in shades.items()},
        neighbours={
            key: [
                Neighbour(pk, other.colour, other.yarn.grist, free[pk])
                for pk, other in others.items()
                if pk not in used and free[pk] and _alike(shades[key], other)
            ]
            for key in shades
        },
        put_ups=_put_ups(shades),
        sold=sold.by_key,
        one_more={key for key, shade in shades.items() if shade.one_more},
        no_more={key for key, shade in shades.items() if shade.no_more_on},
        later=_held_by_later(later, shades, reserved),
        wastes=[waste for waste, _ in wastes],
        usable_um=usable,
        step_um=STEPS[measures.length],
    )
    return Around(
        facts=facts,
        shades=shades,
        others=others,
        later=later,
        wastes={waste.key: dressed for waste, dressed in wastes},
        sold=sold,
        lot_names=reader.lot_names,
        loom=loom,
        others_hold=any(claim != claim_id for claim, *_ in reserved),
    )


def usable_um(loom: Loom) -> int:
    """Width in the reed that the loom takes with its clearance."""
    return max(1, loom.weaving_width_um - 2 * LEAST_CLEARANCE_UM)


def _usable_of_own(loom: Loom, in_reed_um: int | Fraction) -> int:
    """All of it for a plan that stands within the clearance: no way is refused for what the plan does itself."""
    usable = usable_um(loom)
    return loom.weaving_width_um if usable < in_reed_um <= loom.weaving_width_um else usable


def _neighbours(shades: Mapping[str, Shade], grists: Mapping[str, Grist]) -> dict[int, Shade]:
    """Live shades of the plan's yarns, and of yarns of the same fibres with nearly the same grist: two queries.

    `alike_to` on each names the yarns of the plan that it may stand for.
    """
    yarns = {shade.yarn_id: grists[key] for key, shade in shades.items()}
    fibres: dict[int, set[tuple[str, int]]] = defaultdict(set)
    figures: dict[int, Grist] = {}
    for yarn_id, fibre, percent, um, mg in FibreShare.objects.filter(yarn__retired_at=None).values_list(
        "yarn_id", "fibre", "percent", "yarn__grist_um", "yarn__grist_mg"
    ):
        fibres[yarn_id].add((fibre, percent))
        figures[yarn_id] = Grist(um, mg)
    alike: dict[int, set[int]] = defaultdict(set)
    for own, grist in yarns.items():
        alike[own].add(own)
        for other, figure in figures.items():
            if fibres[other] == fibres.get(own) and near_in_grist(grist, figure):
                alike[other].add(own)
    found = {}
    for shade in Shade.objects.live().filter(yarn__in=alike).select_related("yarn").order_by("pk"):
        shade.alike_to = alike[shade.yarn_id]
        found[shade.pk] = shade
    return found


def _alike(shade: Shade, other: Shade) -> bool:
    return shade.yarn_id in other.alike_to


def _put_ups(shades: Mapping[str, Shade]) -> dict[str, int]:
    """What the yarns come in: the net mass that most labels of the shade promise, else of its yarn."""
    labelled = Cone.objects.exclude(labelled_mg=None).filter(
        shade__yarn__in={shade.yarn_id for shade in shades.values()}
    )
    of_shade: dict[int, Counter[int]] = defaultdict(Counter)
    of_yarn: dict[int, Counter[int]] = defaultdict(Counter)
    for shade_id, yarn_id, mass in labelled.order_by("pk").values_list(
        "shade_id", "shade__yarn_id", "labelled_mg"
    ):
        of_shade[shade_id][mass] += 1
        of_yarn[yarn_id][mass] += 1
    found = {}
    for key, shade in shades.items():
        counted = of_shade.get(shade.pk) or of_yarn.get(shade.yarn_id)
        if counted:
            found[key] = counted.most_common(1)[0][0]
    return found


def comes_after(other: Project, first: Project) -> bool:
    """Needed on a later day, or on some day or none with a lower rank."""
    far = date.max
    return (other.need_on or far) > (first.need_on or far) or other.rank > first.rank


def _later(project: Project, claims: set[int]) -> dict[int, Project]:
    """Projects that hold yarn of these shades, come after this one and have not begun: the last of them first."""
    if not claims:
        return {}
    first = project.trial_of or project
    found = [
        other
        for other in Project.objects.to_weave().filter(claim__in=claims).by_need()
        if comes_after(other, first)
    ]
    return {other.claim_id: other for other in reversed(found)}


def _held_by_later(
    later: Mapping[int, Project],
    shades: Mapping[str, Shade],
    reserved: Sequence[tuple[int, int, int, int]],
) -> list[Later]:
    """One query where there is anybody later."""
    if not later:
        return []
    key_of = {shade.pk: key for key, shade in shades.items()}
    held: dict[int, dict[str, dict[int, int]]] = defaultdict(lambda: defaultdict(lambda: defaultdict(int)))
    for claim_id, cone_id, mass_mg, shade_id in reserved:
        if claim_id in later:
            held[claim_id][key_of[shade_id]][cone_id] += mass_mg
    demands: dict[int, dict[str, Demand]] = defaultdict(dict)
    by_pk = {other.pk: other for other in later.values()}
    rows = ProjectShade.objects.filter(project__in=by_pk, shade__in=key_of).annotate(
        um=F("shade__yarn__grist_um"), mg=F("shade__yarn__grist_mg")
    )
    for row in rows:
        other = by_pk[row.project_id]
        grist = Grist(row.frozen_um or row.um, row.frozen_mg or row.mg)
        need = Need(*(getattr(row, name) for name in NEED_COLUMNS))
        demands[other.claim_id][key_of[row.shade_id]] = Demand(
            need, row.warp_um or other.warp_um, other.pieces_in_all, other.keep_back, grist
        )
    return [Later(claim_id, held[claim_id], demands[claim_id]) for claim_id in later]


def _wastes(
    looms: Sequence[Loom], project: Project, own_usable_um: int | None
) -> list[tuple[Waste, Dressed]]:
    """What is lost on each loom in each way of dressing that has a figure, and the usual figure of tying on."""
    found = []
    for loom in looms:
        if loom.is_lent:
            continue
        width = own_usable_um if loom.pk == project.loom_id else usable_um(loom)
        for dressing, waste_um in (
            (Dressing.TIED, loom.waste_um),
            (Dressing.LACED, loom.waste_laced_um),
            (Dressing.TIED_ON, loom.waste_tied_on_um),
        ):
            if waste_um is not None:
                waste = Waste(f"{loom.pk}-{dressing}", waste_um, width)
                found.append((waste, Dressed(loom, dressing)))
    own = next((loom for loom in looms if loom.pk == project.loom_id), None)
    if project.dressing != Dressing.TIED_ON and (own is None or own.waste_tied_on_um is None):
        found.append((Waste(USUAL_TIED_ON, USUAL_TIED_ON_UM), Dressed(own, Dressing.TIED_ON)))
    return found
