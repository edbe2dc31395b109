"""How sure a plan's yarn is to suffice, in words: what is not known exactly, from this studio's records where it has any.

A figure below without a record behind it is common practice, no source, and the page says so. Of the records:

- What finished projects took, against their plans, in place of length per weight and picks: both are in what was
  weighed back. Take-up is not, since a warp is wound as it was planned. A project that took less than half or more
  than twice its plan wove something else and is left out.
- Yarns measured here, against what the seller stated or the count gives, in place of the usual figures of those two.
- What stocktakes found against the books, in place of the scale's division: as far as that is noise.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import exp, log, sqrt
from typing import NamedTuple

from django.db.models import Count as Counted
from django.db.models import F, OuterRef, Q, Subquery, Sum

from projects.judging import Judged, ShadeLine
from projects.models import ProjectShade, Stage
from projects.stock import Weighing
from projects.wording import counted, together
from projects.workings import Figure, Step
from stash.calc.counts import Count, CountSystem
from stash.calc.difference import DIVISION_MG, NOISE_OF_ANIMALS
from stash.calc.grist import Grist
from stash.calc.needs import WorkedPlan
from stash.calc.sureness import (
    Doubt,
    Doubts,
    Sureness,
    asks_of,
    odds,
    sureness,
    whole_shares,
)
from stash.calc.verdict import Verdict
from stash.calc.writing import Measures
from stash.models import Entry, EntryKind, Shade, Yarn
from stash.models.form import Form
from stash.models.stocktake import Count as StocktakeCount
from stash.models.stocktake import Finding
from stash.models.yarn import GristSource

# One standard deviation each; common practice, no source, unless another is named.
COUNT = {GristSource.MEASURED: 0.01, GristSource.STATED: 0.02, GristSource.COMPUTED: 0.03}
TAKE_UP = 0.02
"""Of the woven length: 8 % may as well be 6 or 10."""
PICKS = 0.05
"""Weavers miss the picks that they planned by 10 to 20 % at worst (common practice, no source)."""
ESTIMATED = 0.05
"""Of what a cone holds, where no scale gave the figure."""
OF_A_KIND = 0.1
"""Of what the empty core weighs, where another of its kind was weighed."""
UNKNOWN_CORE_MG = 8_000.0
"""Cores weigh from 12 to 40 g (from memory): a guess in the middle."""
CORELESS = (Form.SKEIN, Form.BALL)

FINISHED = (Stage.CUT_OFF, Stage.FINISHED, Stage.DONE)
LEAST_RECORDS = 6
MOST_RECORDS = 60
LEAST_COUNTS = 12
MOST_COUNTS = 200
BELOW_EVERYTHING = 1e-4
LISTED = 6


class Records(NamedTuple):
    """What this studio's books know: a share (one standard deviation), and from how many."""

    taken: float = 1.0
    taken_spread: float = 0.0
    taken_from: int = 0
    taken_projects: int = 0
    apart: Mapping[str, tuple[float, int]] = {}
    """By where a length per weight comes from: how far yarns measured here lay from it, and how many."""
    scale_share: float = 0.0
    scale_from: int = 0


@dataclass(frozen=True, slots=True)
class SureLine:
    """How sure one shade is."""

    line: ShadeLine
    found: Sureness
    steps: Sequence[Step]
    spread: str
    """All doubts together, as a length."""

    @property
    def odds(self) -> str:
        return odds(self.found.chance)


@dataclass(frozen=True, slots=True)
class Sure:
    """Of every shade of which there is enough, or just enough; the least sure first."""

    lines: Sequence[SureLine] = ()
    figures: Sequence[Figure] = ()
    sentence: str = ""


def sure_of(
    worked: WorkedPlan,
    judged: Judged,
    shades: Mapping[str, Shade],
    weighing: Mapping[int, Weighing],
    measures: Measures,
) -> Sure:
    """At most three queries, whatever the plan; none where every shade is short."""
    lines = [line for line in judged.lines if line.needs_anything and line.verdict.state != Verdict.SHORT]
    if judged.open_keys or not lines:
        return Sure()
    records = records_of()
    division = measures.scale_step_mg or DIVISION_MG[measures.mass_in]
    found = [
        _sure_line(line, worked, shades[line.key].yarn, records, weighing, division, measures)
        for line in lines
    ]
    found.sort(key=lambda one: one.found.chance)
    return Sure(found, _figures(found), _sentence(found, some_short=len(judged.in_state(Verdict.SHORT)) > 0))


def own_spread(cone: Weighing, division_mg: int, scale_share: float = 0.0) -> tuple[float, float]:
    """How unsure scale and core make what a cone holds (mg, one standard deviation each)."""
    if cone.estimated:
        return ESTIMATED * cone.on_hand_mg, 0.0
    # The last figure is rounded: anything within a division is as likely.
    step = division_mg / sqrt(12)
    scale = sqrt(step**2 + (scale_share * cone.on_hand_mg) ** 2)
    if cone.of_kind:
        return scale, OF_A_KIND * (cone.core_mg or 0)
    if cone.core_mg is not None:
        return scale, step if cone.core_mg else 0.0
    return scale, 0.0 if cone.form in CORELESS else UNKNOWN_CORE_MG


def doubts_of(line: ShadeLine, worked: WorkedPlan, yarn: Yarn, records: Records) -> Doubts:
    length = worked.length_of(line.key)
    woven = float(length.with_take_up_um / (1 + length.take_up))
    take_up = TAKE_UP * woven / length.warp_um
    if records.taken_from:
        return Doubts(count=records.taken_spread, take_up=take_up, picks=0.0, taken=records.taken)
    apart, number = records.apart.get(yarn.grist_source, (0.0, 0))
    count = apart if number else COUNT[GristSource(yarn.grist_source)]
    return Doubts(count=count, take_up=take_up, picks=PICKS)


def _sure_line(
    line: ShadeLine,
    worked: WorkedPlan,
    yarn: Yarn,
    records: Records,
    weighing: Mapping[int, Weighing],
    division_mg: int,
    measures: Measures,
) -> SureLine:
    own = {
        cone.id: own_spread(weighing[cone.id], division_mg, records.scale_share)
        for cone in line.cones
        if cone.id in weighing
    }
    keep_back = worked.plan.keep_back
    proposal = line.verdict.proposal
    asks = asks_of(proposal, line.need, line.warp_um, line.pieces, line.grist, line.cones, own)
    doubts = doubts_of(line, worked, yarn, records)
    found = sureness(asks, line.warp_um, keep_back, line.grist, doubts)
    free_mg = sum(cone.free_mg for ask in asks for cone in ask.cones)
    weighed = [weighing[cone.id] for cone in line.cones if cone.id in weighing and cone.free_mg]
    return SureLine(
        line,
        found,
        _steps(line, found, free_mg, yarn, records, doubts, weighed, measures),
        measures.long_length(_um(found.spread, line)),
    )


def _steps(
    line: ShadeLine,
    found: Sureness,
    free_mg: int,
    yarn: Yarn,
    records: Records,
    doubts: Doubts,
    cones: Sequence[Weighing],
    measures: Measures,
) -> list[Step]:
    """What is there, what is needed, and each doubt with how far it reaches and its share of all doubt."""
    long = measures.long_length
    steps = [
        Step("free of the lots that serve it", long(line.grist.length_um_of(free_mg), "down")),
        Step("needed, without buffer", long(line.need_um, "up")),
    ]
    if records.taken_from and abs(records.taken - 1) >= 0.005:
        more = "more" if records.taken > 1 else "less"
        steps.append(
            Step(
                f"finished projects took {_percent(abs(records.taken - 1))} {more} than planned",
                f"× {records.taken:.2f}",
            )
        )
    sourced = False
    for part, share in zip(found.parts, whole_shares(found.parts), strict=True):
        words, usual = _doubt_words(part.doubt, yarn, records, doubts, cones)
        sourced = sourced or usual
        amount = f"± {long(_um(part.spread, line))}"
        words = words.replace("± ", "±\u00a0")  # a sign never ends a line
        steps.append(Step(words, f"{amount} ({share} %)" if len(found.parts) > 1 else amount))
    if len(found.parts) > 1:
        steps.append(Step("together, as squares", f"± {long(_um(found.spread, line))}", True))
        steps.append(Step("In brackets stands the share of all doubt.", ""))
    if sourced:
        steps.append(
            Step("A ± that names no record of this studio is common practice, without a source.", "")
        )
    return steps


def _um(spread: float, line: ShadeLine) -> int:
    return round(spread * line.need_um)


def _percent(share: float) -> str:
    if 0 < share < 0.0005:
        return "under 0.1 %"
    return f"{100 * share:.1f}".removesuffix(".0") + " %"


def _doubt_words(
    doubt: Doubt, yarn: Yarn, records: Records, doubts: Doubts, cones: Sequence[Weighing]
) -> tuple[str, bool]:
    """What is unsure, by how much, and whether that is common practice without a source."""
    if doubt == Doubt.SCALE:
        return _scale_words(records, cones)
    if doubt == Doubt.CORE:
        return _core_words(cones)
    if doubt == Doubt.TAKE_UP:
        return f"take-up, ± {_percent(TAKE_UP)} of the woven length", True
    if doubt == Doubt.PICKS:
        return f"picks and the weft’s take-up, ± {_percent(PICKS)}", True
    if records.taken_from:
        shades, projects = records.taken_from, counted(records.taken_projects, "finished project")
        return (
            f"length per weight and weft, ± {_percent(doubts.count)} by {counted(shades, 'shade')} of {projects}",
            False,
        )
    source = GristSource(yarn.grist_source)
    _, number = records.apart.get(source, (0.0, 0))
    by = f" by {counted(number, 'yarn')} measured here" if number else ""
    return f"length per weight, {source.label}, ± {_percent(doubts.count)}{by}", not number


def _scale_words(records: Records, cones: Sequence[Weighing]) -> tuple[str, bool]:
    words = "scale, what its last figure steps by"
    usual = False
    if records.scale_share >= 0.0005:
        words = (
            f"scale and damp, ± {_percent(records.scale_share)} by {records.scale_from} cones of stocktakes"
        )
    if any(cone.estimated for cone in cones):
        words, usual = f"{words}; a guessed cone ± {_percent(ESTIMATED)}", True
    return words, usual


def _core_words(cones: Sequence[Weighing]) -> tuple[str, bool]:
    weighed = [cone for cone in cones if not cone.estimated]
    parts = []
    if any(cone.core_mg and not cone.of_kind for cone in weighed):
        parts.append("weighed, as the scale steps")
    if any(cone.of_kind for cone in weighed):
        parts.append(f"of a kind, ± {_percent(OF_A_KIND)} of it")
    if any(cone.core_mg is None and cone.form not in CORELESS for cone in weighed):
        parts.append(f"not known, ± {UNKNOWN_CORE_MG / 1000:.0f} g")
    return f"core {'; '.join(parts)}", parts[-1:] != ["weighed, as the scale steps"]


def _figures(found: Sequence[SureLine]) -> list[Figure]:
    """One to a shade; those that all but surely suffice together, where there are several."""
    best = [one for one in found if odds(one.found.chance) == odds(1.0)]
    told = [one for one in found if one not in best] + (best if len(best) == 1 else [])
    figures = [
        Figure(f"How sure {one.line.shade.name} suffices", _about(one.odds), one.steps)
        for one in told[:LISTED]
    ]
    if len(best) > 1:
        name = "How sure all shades suffice" if len(best) == len(found) else "How sure the others suffice"
        steps = [
            Step(
                f"{one.line.shade.name}: free {one.steps[0].figure}, needed {one.steps[1].figure}",
                f"± {one.spread}",
            )
            for one in best
        ]
        figures.append(Figure(name, f"{_about(odds(1.0))} each", steps))
    return figures


def _about(words: str) -> str:
    return words if words.startswith("less") else f"about {words}"


def _sentence(found: Sequence[SureLine], *, some_short: bool) -> str:
    """How sure that is: about 9 in 10 for Spruce and about 99 in 100 for Flax and Ecru."""
    lead = "How sure the rest suffices" if some_short else "How sure that is"
    by_odds: dict[str, list[str]] = {}
    for one in found:
        by_odds.setdefault(one.odds, []).append(one.line.shade.name)
    if len(by_odds) == 1:
        words = next(iter(by_odds))
        return f"{lead}: {_about(words)}{' for each shade' if len(found) > 1 else ''}."
    parts = [f"{_about(words)} for {_named(names)}" for words, names in by_odds.items()]
    return f"{lead}: {together(parts)}."


def _named(names: Sequence[str]) -> str:
    return together(names) if len(names) <= 3 else f"{len(names)} shades"


# Records


def records_of() -> Records:
    """What the books know, by two queries, or three where too few projects are finished."""
    records = _finished()
    if not records.taken_from:
        records = records._replace(apart=_apart())
    share, number = _stocktakes()
    return records._replace(scale_share=share, scale_from=number)


def _finished() -> Records:
    """Of the shades that finished projects weighed back, the latest first: what was used as a share of the plan."""
    used = Entry.objects.filter(claim=OuterRef("project__claim"), cone__shade=OuterRef("shade")).order_by()
    rows = (
        ProjectShade.objects.filter(project__claim__isnull=False, project__trial_of=None)
        .filter(Q(project__closed_at__isnull=False) | Q(project__stage__in=FINISHED))
        .annotate(
            used_mg=Subquery(used.values("claim").annotate(sum=Sum("change_mg")).values("sum")),
            backs=Subquery(
                used.filter(kind=EntryKind.WEIGHED).values("claim").annotate(n=Counted("pk")).values("n")
            ),
        )
        .filter(backs__gt=0)
        .select_related("project")
        .annotate(um=F("shade__yarn__grist_um"), mg=F("shade__yarn__grist_mg"))
        .order_by("-project_id", "key")[:MOST_RECORDS]
    )
    shares: list[float] = []
    projects: set[int] = set()
    for row in rows:
        plan_um = row.ends * row.warp_um + row.need().weft_um(row.project.pieces_in_all)
        grist = Grist(row.frozen_um or row.um, row.frozen_mg or row.mg)
        plan_mg = float(grist.mass_mg_of(plan_um))
        used_mg = -(row.used_mg or 0)
        if plan_mg > 0 and 0.5 <= used_mg / plan_mg <= 2:
            shares.append(log(used_mg / plan_mg))
            projects.add(row.project_id)
    if len(shares) < LEAST_RECORDS:
        return Records()
    middle = sum(shares) / len(shares)
    spread = sqrt(sum((share - middle) ** 2 for share in shares) / (len(shares) - 1))
    # The middle itself is known from so many only.
    spread *= sqrt(1 + 1 / len(shares))
    return Records(exp(middle), max(spread, BELOW_EVERYTHING), len(shares), len(projects))


def _apart() -> dict[str, tuple[float, int]]:
    """How far yarns measured here lie from what was stated and computed of them."""
    rows = (
        Yarn.objects.exclude(measured_um=None)
        .order_by("-pk")
        .values_list(
            "measured_um", "measured_mg", "stated_um", "stated_mg",
            "count_system", "count_numerator", "count_denominator", "count_ply",
        )[:MOST_COUNTS]
    )  # fmt: skip
    apart: dict[str, list[float]] = {GristSource.STATED: [], GristSource.COMPUTED: []}
    for um, mg, stated_um, stated_mg, system, numerator, denominator, ply in rows:
        measured = um / mg
        if stated_um:
            apart[GristSource.STATED].append(log(measured * stated_mg / stated_um))
        if system:
            computed = _count_of(system, numerator, denominator, ply)
            apart[GristSource.COMPUTED].append(log(measured / float(computed.um_per_mg)))
    return {
        source: (max(_about_none(shares), BELOW_EVERYTHING), len(shares))
        for source, shares in apart.items()
        if len(shares) >= LEAST_RECORDS
    }


def _count_of(system: str, numerator: int, denominator: int, ply: int) -> Grist:
    return Count(CountSystem(system), Fraction(numerator, denominator), ply).grist


def _about_none(shares: Iterable[float]) -> float:
    """Root of the mean square: how far they lie from nothing, not from their own middle."""
    listed = list(shares)
    return sqrt(sum(share**2 for share in listed) / len(listed))


def _stocktakes() -> tuple[float, int]:
    """What the scale found of a cone against the books, as a share; what is no noise is left out."""
    rows = (
        StocktakeCount.objects.filter(
            finding=Finding.WEIGHED, is_estimate=False, settled_at__isnull=False, books_mg__gt=0
        )
        .order_by("-pk")
        .values_list("books_mg", "net_mg")[:MOST_COUNTS]
    )
    shares = [(net - books) / books for books, net in rows]
    noise = [share for share in shares if abs(share) <= float(NOISE_OF_ANIMALS)]
    return (_about_none(noise), len(noise)) if len(noise) >= LEAST_COUNTS else (0.0, 0)
