"""What a proposal starts from: who wants which shades, what each holds now, and the cones; a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from django.db.models import Prefetch, Q, QuerySet, Value
from django.db.models.functions import Coalesce

from projects.bench.ticket import Choices, cut_warp
from projects.judging import NEED_COLUMNS
from projects.models import Project, ProjectShade, Stage
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.needs import work_out
from stash.calc.packing import Need
from stash.calc.ways.moving import Demand
from stash.models import Cone, Reservation
from stash.models.condition import USABLE


@dataclass(frozen=True, slots=True)
class ShelfShade:
    id: int
    name: str
    colour: str
    yarn: str


@dataclass(frozen=True, slots=True)
class ShelfCone:
    """A cone that may be given, or of which somebody that may move holds something; "" for an unknown lot or no
    place."""

    id: int
    code: str
    shade_id: int
    lot_id: int | None
    lot: str
    place: str
    on_hand_mg: int
    kept_mg: int
    """Reserved for those that do not move."""
    usable: bool

    @property
    def open_mg(self) -> int:
        """What may be shared out: all that nobody holds who does not move."""
        return max(0, self.on_hand_mg - self.kept_mg) if self.usable else 0


@dataclass(frozen=True, slots=True, order=True)
class Part:
    """So much of one cone for one use: a reservation, as it is or as it is proposed. Weft has 0 ends."""

    cone_id: int
    use: str
    ends: int
    length_um: int
    mass_mg: int


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a project wants of one shade; `packages` of it are wound from side by side."""

    shade_id: int
    demand: Demand
    packages: int = 1

    @property
    def key(self) -> str:
        return self.demand.need.key


@dataclass(frozen=True, slots=True)
class Party:
    """A project whose yarn is not begun: what it holds may move. In the list of them who needs yarn first is first."""

    pk: int
    name: str
    need_on: date | None
    rank: int
    version: int
    claim_id: int | None
    wanted: tuple[Wanted, ...]
    held: tuple[Part, ...]
    """What it holds now, in order."""


@dataclass(frozen=True, slots=True)
class Staying:
    """A project that is open, but whose yarn does not move; `why` in words."""

    pk: int
    name: str
    why: str


@dataclass(frozen=True)
class Gathered:
    parties: tuple[Party, ...]
    staying: tuple[Staying, ...]
    shades: Mapping[int, ShelfShade]
    cones: Mapping[int, ShelfCone]
    """By key, in its order."""

    def cones_of(self, shade_id: int) -> list[ShelfCone]:
        return self._by_shade.get(shade_id, [])

    @cached_property
    def _by_shade(self) -> dict[int, list[ShelfCone]]:
        found: dict[int, list[ShelfCone]] = defaultdict(list)
        for cone in self.cones.values():
            found[cone.shade_id].append(cone)
        return found

    def moving_only(self, only: Collection[int]) -> Gathered:
        """The same with these projects as the only ones that may move: what the others hold is kept."""
        kept: dict[int, int] = defaultdict(int)
        for party in self.parties:
            if party.pk not in only:
                for part in party.held:
                    kept[part.cone_id] += part.mass_mg
        return replace(
            self,
            parties=tuple(party for party in self.parties if party.pk in only),
            cones={
                pk: replace(cone, kept_mg=cone.kept_mg + kept[pk]) if kept[pk] else cone
                for pk, cone in self.cones.items()
            },
        )


_ALONE = ("pk", "name", "need_on", "rank", "version", "claim_id", "stage", "open_keys", "warp_um", "pieces")
_KITS = ("keep_back", "kit_students", "kit_demo", "kit_spare", "closed_at", "trial_of_id")


def gather(only: Collection[int] | None = None, *, with_plans: bool = True) -> Gathered:
    """All open projects, or those of these keys as the only ones that may move: then what the others hold is kept.

    Five queries, and two more `with_plans`, which say from how many packages of a shade a warp is wound side by
    side: that needs every plan worked out, some milliseconds each. Rows are as a transaction around it sees them.
    """
    found = _projects(with_plans)
    moving = {
        project.pk: project for project in found if not _why_staying(project) and _is_in(project.pk, only)
    }
    wanted, shades = _wanted(moving, with_plans)
    claims = {project.claim_id: pk for pk, project in moving.items() if project.claim_id}
    held: dict[int, list[Part]] = defaultdict(list)
    kept: dict[int, int] = defaultdict(int)
    lines = Reservation.objects.filter(Q(claim__in=claims) | Q(cone__shade__in=shades)).order_by("pk")
    for claim_id, *part in lines.values_list("claim_id", "cone_id", "use", "ends", "length_um", "mass_mg"):
        one = Part(*part)
        if claim_id in claims:
            held[claims[claim_id]].append(one)
        else:
            kept[one.cone_id] += one.mass_mg
    touched = {part.cone_id for parts in held.values() for part in parts}
    cones, further = _cones(shades, touched, kept)
    parties = tuple(
        Party(
            pk,
            project.name,
            project.need_on,
            project.rank,
            project.version,
            project.claim_id,
            tuple(wanted[pk]),
            # Between two queries a cone may have gone: then its reservation went with it.
            tuple(sorted(part for part in held[pk] if part.cone_id in cones)),
        )
        for pk, project in moving.items()
    )
    return Gathered(
        parties,
        tuple(Staying(one.pk, one.name, why) for one in found if (why := _why_staying(one))),
        further | shades,
        cones,
    )


def _is_in(pk: int, only: Collection[int] | None) -> bool:
    return only is None or pk in only


def _projects(with_plans: bool) -> Sequence[Project]:
    """By need; those with plans with all that working them out asks for."""
    found: QuerySet[Project] = Project.objects.open().by_need().with_taking()
    if not with_plans:
        return list(found.only(*_ALONE, *_KITS))
    rows = ProjectShade.objects.only("project_id", "key", "beam", "wish", "wish_lot_id", "wish_cone_id")
    return list(found.select_related("reed").prefetch_related(Prefetch("shades", rows), "beams"))


def _why_staying(project: Project) -> str:
    """What keeps a project's yarn where it is; "" for one that may move."""
    if project.was_wound:
        return "Its warp is wound"
    if project.was_taken:
        return "Yarn was taken for it"
    if project.stage != Stage.PLANNED:
        return f"It stands at “{project.get_stage_display()}”"
    if project.open_keys:
        return f"No shade stands for {project.open_keys.replace(' ', ', ')} in its plan yet"
    return ""


def _wanted(
    moving: Mapping[int, Project], with_plans: bool
) -> tuple[dict[int, list[Wanted]], dict[int, ShelfShade]]:
    """What each wants, and the shades. A shade of a plan that needs nothing of it is left out."""
    wanted: dict[int, list[Wanted]] = {pk: [] for pk in moving}
    shades: dict[int, ShelfShade] = {}
    packages = {pk: _packages(project) if with_plans else {} for pk, project in moving.items()}
    rows = (
        ProjectShade.objects.filter(project__in=moving)
        .order_by("project", "key")
        .values_list(
            "project_id",
            "warp_um",
            "shade_id",
            "shade__name",
            "shade__colour",
            "shade__yarn__name",
            Coalesce("frozen_um", "shade__yarn__grist_um"),
            Coalesce("frozen_mg", "shade__yarn__grist_mg"),
            *NEED_COLUMNS,
        )
    )
    for pk, warp_um, shade_id, name, colour, yarn, um, mg, *columns in rows:
        project, need = moving[pk], Need(*columns)
        if not need.ends and not need.weft_um(project.pieces_in_all):
            continue
        demand = Demand(
            need, warp_um or project.warp_um, project.pieces_in_all, project.keep_back, Grist(um, mg)
        )
        wanted[pk].append(Wanted(shade_id, demand, packages[pk].get(need.key, 1)))
        shades[shade_id] = ShelfShade(shade_id, name, colour, yarn)
    return wanted, shades


def _packages(project: Project) -> dict[str, int]:
    """From how many packages of each shade the warp is wound at once, by key."""
    try:
        passes = cut_warp(work_out(project.plan), Choices(at_once=project.at_once)).passes
    except CalcError:  # a plan that was written around the service: it is wound thread by thread
        return {}
    most: dict[str, int] = {}
    for one in passes:
        for key in set(one.keys):
            most[key] = max(most.get(key, 0), one.keys.count(key))
    return most


def _cones(
    shades: Collection[int], touched: Collection[int], kept: Mapping[int, int]
) -> tuple[dict[int, ShelfCone], dict[int, ShelfShade]]:
    """The usable cones of these shades and all that are held; with them the shades of held ones that no plan has."""
    rows = (
        Cone.objects.live()
        .filter(Q(shade__in=shades, condition__in=USABLE) | Q(pk__in=touched))
        .order_by("pk")
        .values_list(
            "pk",
            "code",
            "shade_id",
            "lot_id",
            Coalesce("lot__name", Value("")),
            Coalesce("place__name", Value("")),
            "on_hand_mg",
            "condition",
            "shade__name",
            "shade__colour",
            "shade__yarn__name",
        )
    )
    cones: dict[int, ShelfCone] = {}
    further: dict[int, ShelfShade] = {}
    for pk, code, shade_id, lot_id, lot, place, on_hand, condition, name, colour, yarn in rows:
        usable = condition in USABLE
        cones[pk] = ShelfCone(pk, code, shade_id, lot_id, lot, place, on_hand, kept[pk], usable)
        further[shade_id] = ShelfShade(shade_id, name, colour, yarn)
    return cones, further
