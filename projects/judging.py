"""A project's verdict: every shade's need against what is free for it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date

from django.db.models.functions import Coalesce

from projects.models import Project, ProjectShade
from projects.stock import ShelfReader, held_by
from projects.wish_words import wished_words
from stash.calc.grist import Grist
from stash.calc.most import Stock
from stash.calc.needs import WorkedPlan
from stash.calc.packing import ConeStock, Need
from stash.calc.verdict import ShadeVerdict, Verdict, judge, worst
from stash.models import Shade

NEED_COLUMNS = tuple(field.name for field in fields(Need))
"""What a `Need` is made of stands under the same names with each shade of a project."""


@dataclass(frozen=True, slots=True)
class ShadeName:
    """What a list says of a shade. A `Shade` says it too, and more."""

    pk: int
    name: str
    colour: str
    no_more_on: date | None = None
    """Since when it is no more made."""


@dataclass(frozen=True, slots=True)
class ShadeLine:
    """One shade of a plan: what it needs, what is free for it, and what comes of it."""

    key: str
    shade: Shade | ShadeName
    grist: Grist
    need: Need
    cones: Sequence[ConeStock]
    verdict: ShadeVerdict
    warp_um: int
    """Length of one end, which is that of its beam."""
    pieces: int
    """From all like warps together; the need is for so many."""
    picks: int
    wished: str = ""
    """The wish for its lots as a sentence goes on behind its name: `in lot 2207`; "" for any lot."""

    @property
    def wanted(self) -> str:
        """The shade with the wish for its lots."""
        return f"{self.shade.name} {self.wished}" if self.wished else self.shade.name

    @property
    def all_free_um(self) -> int:
        """Free of it in all lots, whatever is wished."""
        return int(sum(cone.free_mg * self.grist.length_um // self.grist.mass_mg for cone in self.cones))

    @property
    def need_um(self) -> int:
        """The bare need of warp and weft together."""
        return self.need.ends * self.warp_um + self.need.weft_um(self.pieces)

    @property
    def buffered_um(self) -> int:
        return self.need.ends_buffered * self.warp_um + self.need.weft_um(self.pieces, buffered=True)

    @property
    def weft_um(self) -> int:
        return self.need.weft_um(self.pieces)

    @property
    def needs_anything(self) -> bool:
        return self.need_um > 0


@dataclass(frozen=True, slots=True)
class Judged:
    """A plan against the shelf."""

    lines: tuple[ShadeLine, ...]
    warp_um: int
    """Of beam 1."""
    pieces: int
    """From all like warps together."""
    open_keys: tuple[str, ...] = ()
    """Keys of the plan that have no shade yet: nothing can be said of them."""

    @property
    def state(self) -> Verdict:
        """The worst shade's; a plan that is not all named is never called enough."""
        found = worst(line.verdict for line in self.lines if line.needs_anything)
        return Verdict.TIGHT if self.open_keys and found == Verdict.ENOUGH else found

    @property
    def word(self) -> str:
        """short, tight or enough: also the class by which the pages colour it."""
        return self.state.name.lower()

    def in_state(self, state: Verdict) -> list[ShadeLine]:
        return [line for line in self.lines if line.needs_anything and line.verdict.state == state]

    @property
    def no_more_made(self) -> list[ShadeLine]:
        """Shades of which there will be no other lot."""
        return [line for line in self.lines if line.needs_anything and line.shade.no_more_on]

    @property
    def mixed(self) -> list[ShadeLine]:
        """Shades whose warp comes from more than one lot."""
        return [line for line in self.lines if line.verdict.lots_mixed]

    @property
    def stock(self) -> dict[str, Stock]:
        return {line.key: Stock(line.grist, line.cones) for line in self.lines}


def judge_plan(
    worked: WorkedPlan,
    shades: Mapping[str, tuple[Shade, Grist]],
    reader: ShelfReader,
    claim_id: int | None,
    wished: Mapping[int, str] | None = None,
) -> Judged:
    """From a plan that may not be saved. A key without a shade is left out: the form says so. `wished` has the words
    of the wishes for lots by the keys of the shades.
    """
    lines = []
    plan = worked.plan
    pieces = plan.warps * plan.pieces
    for asked in worked.needs:
        if asked.key not in shades:
            continue
        shade, grist = shades[asked.key]
        cones = reader.of_shade(shade.pk, claim_id)
        verdict = judge(asked.need, asked.warp_um, pieces, plan.keep_back, grist, cones)
        lines.append(
            ShadeLine(
                asked.key,
                shade,
                grist,
                asked.need,
                cones,
                verdict,
                asked.warp_um,
                pieces,
                asked.picks,
                (wished or {}).get(shade.pk, ""),
            )
        )
    unnamed = tuple(asked.key for asked in worked.needs if asked.key not in shades)
    return Judged(tuple(lines), worked.length.warp_um, pieces, unnamed)


def judge_all(projects: Iterable[Project]) -> list[tuple[Project, Judged]]:
    """Many projects by three queries, however many there are.

    From the needs stored with the plans: no arithmetic of the loom, so a list can afford it. Rows are read as
    rows: a list judges hundreds of shades, and a model of each, of its shade and of its yarn cost more than the
    verdicts.
    """
    projects = list(projects)
    planned = _planned([project.pk for project in projects])
    reader = ShelfReader(
        {row.shade.pk for rows in planned.values() for row in rows},
        held_by(project.claim_id for project in projects),
    )
    return [(project, _judged(project, planned.get(project.pk, []), reader)) for project in projects]


@dataclass(frozen=True, slots=True)
class _Planned:
    """One shade of a stored plan."""

    shade: ShadeName
    grist: Grist
    need: Need
    picks: int
    warp_um: int
    wished: str


def _planned(project_ids: Sequence[int]) -> dict[int, list[_Planned]]:
    planned: dict[int, list[_Planned]] = {}
    rows = (
        ProjectShade.objects.filter(project_id__in=project_ids)
        .order_by("key")
        .values_list(
            "project_id",
            "picks",
            "warp_um",
            "shade_id",
            "shade__name",
            "shade__colour",
            "shade__no_more_on",
            Coalesce("frozen_um", "shade__yarn__grist_um"),
            Coalesce("frozen_mg", "shade__yarn__grist_mg"),
            "wish_lot__name",
            "wish_cone__code",
            *NEED_COLUMNS,
        )
    )
    for project_id, picks, warp_um, shade_id, name, colour, no_more, um, mg, lot, cone, *columns in rows:
        shade, need = ShadeName(shade_id, name, colour, no_more), Need(*columns)
        wished = wished_words(need.wish, lot, cone)
        planned.setdefault(project_id, []).append(
            _Planned(shade, Grist(um, mg), need, picks, warp_um, wished)
        )
    return planned


def _judged(project: Project, planned: Sequence[_Planned], reader: ShelfReader) -> Judged:
    lines = []
    pieces = project.pieces_in_all
    for row in planned:
        cones = reader.of_shade(row.shade.pk, project.claim_id)
        # A key that the order does not use needs nothing, and has no length of its own.
        warp_um = row.warp_um or project.warp_um
        verdict = judge(row.need, warp_um, pieces, project.keep_back, row.grist, cones)
        lines.append(
            ShadeLine(
                row.need.key,
                row.shade,
                row.grist,
                row.need,
                cones,
                verdict,
                warp_um,
                pieces,
                row.picks,
                row.wished,
            )
        )
    return Judged(tuple(lines), project.warp_um, pieces, tuple(project.open_keys.split()))
