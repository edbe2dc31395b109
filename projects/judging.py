"""A project's verdict: every shade's need against what is free for it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from projects.models import Project
from projects.stock import ShelfReader
from stash.calc.grist import Grist
from stash.calc.most import Stock
from stash.calc.needs import WorkedPlan
from stash.calc.packing import ConeStock, Need
from stash.calc.verdict import ShadeVerdict, Verdict, judge, worst
from stash.models import Shade


@dataclass(frozen=True, slots=True)
class ShadeLine:
    """One shade of a plan: what it needs, what is free for it, and what comes of it."""

    key: str
    shade: Shade
    grist: Grist
    need: Need
    cones: Sequence[ConeStock]
    verdict: ShadeVerdict
    warp_um: int
    pieces: int
    picks: int

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
    pieces: int

    @property
    def state(self) -> Verdict:
        return worst(line.verdict for line in self.lines if line.needs_anything)

    @property
    def word(self) -> str:
        """short, tight or enough: also the class by which the pages colour it."""
        return self.state.name.lower()

    def in_state(self, state: Verdict) -> list[ShadeLine]:
        return [line for line in self.lines if line.needs_anything and line.verdict.state == state]

    @property
    def mixed(self) -> list[ShadeLine]:
        """Shades whose warp comes from more than one lot."""
        return [line for line in self.lines if line.verdict.lots_mixed]

    @property
    def stock(self) -> dict[str, Stock]:
        return {line.key: Stock(line.grist, line.cones) for line in self.lines}


def judge_project(project: Project, reader: ShelfReader) -> Judged:
    """From the needs stored with the plan: no arithmetic of the loom, so a list can afford it."""
    lines = []
    for row in project.shades.all():
        cones = reader.of_shade(row.shade_id, project.claim_id)
        need = row.need()
        verdict = judge(need, project.warp_um, project.pieces, project.keep_back, row.grist, cones)
        lines.append(
            ShadeLine(
                row.key,
                row.shade,
                row.grist,
                need,
                cones,
                verdict,
                project.warp_um,
                project.pieces,
                row.picks,
            )
        )
    return Judged(tuple(lines), project.warp_um, project.pieces)


def judge_plan(
    worked: WorkedPlan, shades: Mapping[str, tuple[Shade, Grist]], reader: ShelfReader, claim_id: int | None
) -> Judged:
    """From a plan that may not be saved. A key without a shade is left out: the form says so."""
    lines = []
    plan, warp_um = worked.plan, worked.length.warp_um
    for asked in worked.needs:
        if asked.key not in shades:
            continue
        shade, grist = shades[asked.key]
        cones = reader.of_shade(shade.pk, claim_id)
        verdict = judge(asked.need, warp_um, plan.pieces, plan.keep_back, grist, cones)
        lines.append(
            ShadeLine(asked.key, shade, grist, asked.need, cones, verdict, warp_um, plan.pieces, asked.picks)
        )
    return Judged(tuple(lines), warp_um, plan.pieces)


def judge_all(projects: Iterable[Project]) -> list[tuple[Project, Judged]]:
    """Many projects by a number of queries that does not grow with them; fetch them `with_shades()`."""
    projects = list(projects)
    reader = ShelfReader(projects)
    return [(project, judge_project(project, reader)) for project in projects]
