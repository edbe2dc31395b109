"""Threading and sleying: what stands on which shaft and in which dent, and how to find out that it does not."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from projects.models import Project
from stash.calc.density import UM_PER_CM, UM_PER_INCH, Density
from stash.calc.draft import interlacing, threading_of
from stash.calc.errors import CalcError
from stash.calc.loom_lists import (
    Group,
    LoomEnd,
    ReedCheck,
    TyingGroups,
    dress,
    fill_dents,
    heddles_on,
    keys_by_shaft,
    reed_checks,
    threading_groups,
    tying_groups,
)
from stash.calc.needs import WorkedPlan
from stash.calc.repeats import Again
from stash.calc.writing import Measures

LONGEST_SPREAD = 60


@dataclass(frozen=True, slots=True)
class Sleyed:
    """The sley in use: places in each dent of its repeat, and the reed's dents."""

    sley: tuple[int, ...]
    dents: Density
    reed: str
    """"" where no reed is chosen: then one place lies in each dent of a reed as dense as the sett."""

    @property
    def text(self) -> str:
        return "-".join(map(str, self.sley))


@dataclass(frozen=True, slots=True)
class Dressed:
    """Everything that the threading sheet lists."""

    sleyed: Sleyed
    ends: Sequence[LoomEnd]
    dents_used: int
    groups: Sequence[Group]
    heddles: Mapping[int, int]
    lifts: Mapping[int, Sequence[Again[tuple[int, str]]]]
    checks: Sequence[ReedCheck]
    tying: TyingGroups
    floating: bool

    @property
    def in_reed_um(self) -> Fraction:
        return self.sleyed.dents.length_um_of(self.dents_used)

    @property
    def half_um(self) -> Fraction:
        return self.in_reed_um / 2


def sley_of(project: Project, worked: WorkedPlan) -> Sleyed:
    """The sley that was chosen for the project's reed, else ends spread over its dents as evenly as they go."""
    sett, reed = worked.plan.sett, project.reed
    if reed is None:
        return Sleyed((1,), sett, "")
    chosen = tuple(int(part) for part in project.sley.split("-") if part.strip().isdecimal())
    if chosen and any(chosen):
        return Sleyed(chosen, reed.dents, reed.name)
    ratio = sett.per_micrometre / reed.dents.per_micrometre
    if ratio.denominator > LONGEST_SPREAD:
        ratio = ratio.limit_denominator(LONGEST_SPREAD)
    ends, dents = ratio.numerator, ratio.denominator
    spread = tuple((at + 1) * ends // dents - at * ends // dents for at in range(dents))
    return Sleyed(spread if any(spread) else (1,), reed.dents, reed.name)


def dress_loom(project: Project, worked: WorkedPlan, measures: Measures, group: int, mark_um: int) -> Dressed:
    """Raises CalcError naming what to change."""
    weave = interlacing(
        project.structure,
        threading=project.threading,
        tie_up=project.tie_up,
        treadling=project.treadling,
        lift_plan=project.lift_plan,
    )
    layout = worked.layout
    sleyed = sley_of(project, worked)
    floating = worked.plan.selvedges.floating
    dents = fill_dents(layout.places, sleyed.sley, floating=floating)
    ends = dress(layout.each(), threading_of(weave, layout.heddles), dents)
    inch = UM_PER_INCH if measures.length == "imperial" else 5 * UM_PER_CM // 2
    if mark_um < 1:
        raise CalcError("Marks are further apart than nothing.", field="mark")
    return Dressed(
        sleyed=sleyed,
        ends=ends,
        dents_used=len(dents),
        groups=threading_groups(ends, group),
        heddles=heddles_on(ends),
        lifts=keys_by_shaft(ends),
        checks=reed_checks(ends, sleyed.dents, len(dents), mark_um),
        tying=tying_groups(layout.ends, worked.plan.sett, inch),
        floating=floating,
    )


def runs_in_words(runs: Sequence[Again[tuple[int, str]]], names: Mapping[str, str]) -> str:
    """4 Oat, 8 times (1 Spruce, 1 Oat)."""
    said = []
    for again in runs:
        part = ", ".join(f"{number} {names.get(key, key)}" for number, key in again.items)
        said.append(f"{again.times} times ({part})" if again.times > 1 else part)
    return ", ".join(said)


def shafts_in_words(runs: Sequence[Again[int]]) -> str:
    """5 times (1-2-3-4), 1-2."""
    said: list[str] = []
    plain: list[str] = []
    for again in runs:
        if again.times == 1:
            plain += map(str, again.items)
            continue
        if plain:
            said.append("-".join(plain))
            plain = []
        said.append(f"{again.times} times ({'-'.join(map(str, again.items))})")
    if plain:
        said.append("-".join(plain))
    return ", ".join(said)
