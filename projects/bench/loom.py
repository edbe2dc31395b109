"""Threading and sleying: what stands on which shaft and in which dent, and how to find out that it does not."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from projects.models import Project
from stash.calc.density import UM_PER_CM, UM_PER_INCH, Density
from stash.calc.draft import Interlacing, check_shafts, interlacing
from stash.calc.errors import CalcError
from stash.calc.heddles import repeat_on
from stash.calc.loom_lists import (
    Group,
    LoomEnd,
    ReedCheck,
    TyingGroups,
    dress,
    heddles_on,
    keys_by_shaft,
    reed_checks,
    threading_groups,
    tying_groups,
)
from stash.calc.needs import WorkedPlan
from stash.calc.repeats import Again
from stash.calc.sley import Sley, centre
from stash.calc.sley_offers import offers
from stash.calc.writing import Measures


@dataclass(frozen=True, slots=True)
class InReed:
    """The sley in use and the reed's dents; without a reed, a dent for every place, as dense as the sett."""

    sley: Sley
    dents: Density
    reed: str
    """"" where none is chosen."""
    begins: int | None = None
    """The first dent of the whole reed to be used, so that the warp stands in the middle."""


@dataclass(frozen=True, slots=True)
class Dressed:
    """Everything that the threading sheet lists."""

    sleyed: InReed
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


def sley_of(project: Project, worked: WorkedPlan) -> InReed:
    """The sley that was chosen for the project's reed, else the first that would be offered. Raises CalcError."""
    sett, reed = worked.plan.sett, project.reed
    if reed is None:
        return InReed(Sley(1, 1), sett, "")
    if worked.plan.sleyed is not None:
        sley = worked.plan.sleyed.sley
    else:
        offered = offers(sett, [(reed.pk, reed.dents)])
        if not offered:
            raise CalcError(
                f"No sley in {reed.name} comes near the sett of this plan: choose another reed.", field="reed"
            )
        sley = offered[0].sley
    used = sley.dents_used(worked.layout.places, worked.plan.selvedges.floating)
    return InReed(sley, reed.dents, reed.name, centre(reed.dents, reed.length_um, used).first)


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
    dents = sleyed.sley.in_dents(layout.places, floating)
    ends = dress(layout.each(), threading_on(weave, project, layout.heddles), dents)
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


def threading_on(weave: Interlacing, project: Project, heddles: int) -> tuple[int, ...]:
    """The shaft of every heddle from the left, on the project's loom or else on the fewest shafts."""
    shafts = project.loom.shafts if project.loom else max(weave.threading)
    check_shafts(weave, shafts, project.loom.name if project.loom else "The loom")
    repeat = repeat_on(weave, shafts)
    return (repeat * (heddles // len(repeat) + 1))[:heddles]


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
