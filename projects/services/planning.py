"""Writing a plan: one function, so that stored needs always are what calc makes of the stored plan."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from projects.models import Dressing, LossWay, Project, ProjectBeam, ProjectShade, SleyKeeps
from projects.models.project import PPM
from projects.models.shade import KEY, LotWish
from stash.calc.accents import write_accents
from stash.calc.draft import Draft, interlacing
from stash.calc.hems import Hem
from stash.calc.needs import ShadeNeed, WorkedPlan, work_out
from stash.calc.plan import Plan
from stash.calc.quantity import MOST_UM
from stash.calc.sley import read_sley
from stash.calc.sley_offers import near_enough
from stash.models import Claim, Loom, Reed, Shade, Shortage
from stash.models.folding import fold
from stash.services.refusal import Refusal
from stash.services.saving import save_checked
from stash.services.versions import lock_version

FIRST_YEAR = 1900
YEARS_AHEAD = 20
_SAME_IN_PLAN = (
    "pieces",
    "across_um",
    "along_um",
    "hem_um",
    "gap_um",
    "sample_um",
    "header_um",
    "waste_um",
    "order_fills",
    "balance_ends",
    "waste_front_um",
    "accent_way",
    "accents_in_weft",
    "whole_pick_repeats",
    "tail_um",
    "carry_picks",
    "board_um",
    "keep_back",
)
_SAME_IN_NEED = (
    "ends",
    "ends_buffered",
    "picks",
    "weft_piece_um",
    "weft_piece_buffered_um",
    "weft_sample_um",
    "weft_sample_buffered_um",
)


@dataclass(frozen=True, slots=True)
class Kits:
    """Warps of a class: one for every student, for showing and to spare. None of either: one warp."""

    students: int = 0
    demo: int = 0
    spare: int = 0

    @property
    def warps(self) -> int:
        return max(1, self.students + self.demo + self.spare)


NO_KITS = Kits()


_DRAFT_LINES = ("threading", "tie_up", "treadling", "lift_plan")


@dataclass(frozen=True, slots=True)
class Gear:
    """The equipment chosen for a project, by key; `sley` as it is written, 1-1-2."""

    loom_id: int | None = None
    reed_id: int | None = None
    dressing: str = Dressing.TIED
    sley: str = ""
    sley_keeps: str = SleyKeeps.ENDS
    off_on: date | None = None


@dataclass(frozen=True, slots=True)
class ProjectFacts:
    """All that a person says about a project. `loss_way` says how the plan's losses were stated."""

    name: str
    plan: Plan
    structure: str
    shades: Mapping[str, int]
    loss_way: str = LossWay.SIMPLE
    piece_name: str = "pieces"
    occasion: str = ""
    need_on: date | None = None
    rank: int = 5
    note: str = ""
    kits: Kits = NO_KITS
    """What the plan's number of like warps is made of."""
    gear: Gear | None = None
    """None leaves the equipment as it stands."""
    threading: str = ""
    tie_up: str = ""
    treadling: str = ""
    lift_plan: str = ""


@transaction.atomic
def save_project(
    *, facts: ProjectFacts, pk: int | None = None, version: int | None = None, leave_open: bool = False
) -> Project:
    """Make a project, or change the one of that key. Raises Refusal, CalcError or ValidationError.

    With `leave_open` a key of the plan may have no shade yet; nothing is reserved before it has one.
    A reservation made earlier stays as it is: the page says when it no longer is what the plan needs.
    """
    project = lock_version(Project.objects.all(), pk, version, "This project") if pk else Project()
    if project.closed_at:
        raise Refusal("This project is put away. Take it out again before changing its plan.")
    if facts.kits.warps != facts.plan.warps:
        raise ValueError("the kits of a project do not add up to the warps of its plan")
    lines = _draft_lines(facts)
    check_year(facts.need_on, "need_on")
    if facts.gear:
        _write_gear(project, facts.gear, facts)
    plan = _as_sleyed(project, facts.plan)
    worked = work_out(plan)
    _check_needs(worked)
    unknown = _without_shade(worked, facts.shades)
    if unknown and not leave_open:
        raise Refusal(f"The order uses {', '.join(unknown)}; say which shade that is.", field="shades")
    apart = [key for key in unknown if facts.plan.beam_of(key) > 1]
    if apart:
        raise Refusal(
            f"{', '.join(apart)} is wound on a beam of its own: say which shade that is.", field="shades"
        )
    if not pk:
        project.made_at = timezone.now()
    project.name, project.piece_name = facts.name.strip(), facts.piece_name.strip() or "pieces"
    project.occasion, project.note = facts.occasion.strip(), facts.note.strip()
    project.need_on, project.rank, project.structure = facts.need_on, facts.rank, facts.structure
    project.loss_way = facts.loss_way
    for name, line in lines.items():
        setattr(project, name, line)
    project.kit_students, project.kit_demo = facts.kits.students, facts.kits.demo
    project.kit_spare = facts.kits.spare
    project.search = fold(project.name, project.occasion)
    _write_plan(project, facts.plan)
    _write_figures(project, worked)
    project.open_keys = " ".join(unknown)
    save_checked(project, exclude=["claim"])
    _write_beams(project, facts.plan)
    _write_shades(project, facts.shades, worked)
    if project.claim_id:
        Claim.objects.filter(pk=project.claim_id).update(
            name=project.name, need_on=project.need_on, rank=project.rank
        )
    return project


def _draft_lines(facts: ProjectFacts) -> dict[str, str]:
    """The lines of a draft as they are kept. Raises CalcError where the structure is unknown or cannot be woven."""
    lines = {name: getattr(facts, name) for name in _DRAFT_LINES}
    weave = interlacing(facts.structure, **lines)
    return dict(zip(_DRAFT_LINES, weave.written, strict=True)) if isinstance(weave, Draft) else lines


def put_plan(project: Project, plan: Plan, shades: Mapping[str, int]) -> None:
    """Write another plan into a project that the caller has locked or just made; all else that is said of it stays.

    Inside the caller's transaction. Raises Refusal, CalcError or ValidationError.
    """
    plan = _as_sleyed(project, plan)
    worked = work_out(plan)
    _check_needs(worked)
    _write_plan(project, plan)
    _write_figures(project, worked)
    project.open_keys = " ".join(_without_shade(worked, shades))
    save_checked(project, exclude=["claim"])
    _write_beams(project, plan)
    _write_shades(project, shades, worked)


def _write_gear(project: Project, gear: Gear, facts: ProjectFacts) -> None:
    """What is lent out or busy may be planned with; what was taken away may not, unless the project has it already."""
    for name, kind in (("loom", Loom), ("reed", Reed)):
        pk = getattr(gear, f"{name}_id")
        if (
            pk is not None
            and pk != getattr(project, f"{name}_id")
            and not kind.objects.live().filter(pk=pk).exists()
        ):
            raise Refusal(f"There is no such {name} any more. Choose another.", field=name)
        setattr(project, f"{name}_id", pk)
    if gear.sley:
        if project.reed is None:
            raise Refusal("A sley is for a reed: choose the reed too.", field="reed")
        if not near_enough(facts.plan.sett, project.reed.dents, read_sley(gear.sley)):
            raise Refusal("This sley does not come near the sett of the plan. Choose another.", field="sley")
    check_year(gear.off_on, "off_on")
    if gear.off_on and facts.need_on and gear.off_on < facts.need_on:
        raise Refusal("A warp comes off the loom on its winding day or later.", field="off_on")
    project.dressing, project.sley, project.sley_keeps = gear.dressing, gear.sley, gear.sley_keeps
    project.off_on = gear.off_on


def _as_sleyed(project: Project, plan: Plan) -> Plan:
    """The plan with the sley that the project has, whoever made the plan: the stored needs are those of the reed."""
    project.sett_numerator, project.sett_denominator = plan.sett.count.numerator, plan.sett.count.denominator
    project.sett_per_um = plan.sett.per_um
    return replace(plan, sleyed=project.sleyed)


def check_year(day: date | None, field: str) -> None:
    """A day that is far off is a slip of the pen: 2072 for 2027. Raises Refusal."""
    if day is None:
        return
    if day.year < FIRST_YEAR:
        raise Refusal(f"That is before {FIRST_YEAR}. Check the year.", field=field)
    if day.year > timezone.localdate().year + YEARS_AHEAD:
        raise Refusal(f"That is more than {YEARS_AHEAD} years ahead. Check the year.", field=field)


@transaction.atomic
def recompute(*, pk: int) -> bool:
    """Work the stored plan out anew; True if a stored figure was not what calc makes of it now."""
    project = Project.objects.select_for_update(of=("self",), no_key=True).get(pk=pk)
    before = _stored_figures(project)
    worked = work_out(project.plan)
    _write_figures(project, worked)
    shades = {row.key: row.shade_id for row in project.shades.all()}
    project.open_keys = " ".join(_without_shade(worked, shades))
    project.save(update_fields=["ends", "warp_um", "open_keys"])
    _write_shades(project, shades, worked)
    project = Project.objects.get(pk=pk)
    return before != _stored_figures(project)


def _stored_figures(project: Project) -> object:
    needs = [(row.beam, row.warp_um, row.need()) for row in project.shades.all()]
    return project.ends, project.warp_um, project.open_keys, needs


@transaction.atomic
def put_away(*, pk: int, back: bool = False) -> Project:
    """Close a project, or take it out again. What it still holds must be released first.

    What was noted as missing for it is missed no more. Raises Refusal.
    """
    project = Project.objects.select_for_update(of=("self",), no_key=True).get(pk=pk)
    if not back and project.claim_id:
        if project.claim.reservations.exists():
            raise Refusal("This project still holds yarn. Release it first, then put the project away.")
        Shortage.objects.filter(claim=project.claim_id).delete()
    project.closed_at = None if back else timezone.now()
    project.version += 1
    project.save(update_fields=["closed_at", "version"])
    return project


_WARP_COLUMNS = (
    "colour_order",
    "order_fills",
    "balance_ends",
    "border_order",
    "accents",
    "floating_key",
    "doubled_ends",
)


def _write_plan(project: Project, plan: Plan) -> None:
    before = [getattr(project, name) for name in _WARP_COLUMNS]
    for name in _SAME_IN_PLAN:
        setattr(project, name, getattr(plan, name))
    if project.loss_way == LossWay.SPLIT:
        project.draw_in_ppm, project.shrinkage_across_ppm = map(_ppm, plan.losses_across)
        project.relaxation_ppm, project.shrinkage_along_ppm = map(_ppm, plan.losses_along)
    else:
        (project.loss_across_ppm,), (project.loss_along_ppm,) = (
            map(_ppm, plan.losses_across),
            map(_ppm, plan.losses_along),
        )
    project.take_up_ppm, project.weft_take_up_ppm = _ppm(plan.take_up), _ppm(plan.weft_take_up)
    project.warp_buffer_ppm, project.weft_buffer_ppm = _ppm(plan.warp_buffer), _ppm(plan.weft_buffer)
    project.picks_numerator, project.picks_denominator = (
        plan.picks.count.numerator,
        plan.picks.count.denominator,
    )
    project.picks_per_um = plan.picks.per_um
    project.colour_order, project.pick_order = plan.order.text, plan.pick_order.text
    project.border_order = plan.border.text if plan.border else ""
    project.accents = write_accents(plan.accents)
    _write_hem(project, plan.hem)
    fringe, selvedges = plan.fringe, plan.selvedges
    project.fringe_um, project.fringe_knot_um = fringe.finished_um, fringe.knot_um
    project.fringe_twisted, project.fringe_loss_ppm = fringe.twisted, _ppm(fringe.loss)
    project.floating_selvedges, project.floating_key = selvedges.floating, selvedges.floating_key
    project.doubled_ends, project.doubled_way = selvedges.doubled_ends, selvedges.doubled_way
    if before != [getattr(project, name) for name in _WARP_COLUMNS]:
        # Another warp has another ticket: its lines are not those that were wound.
        project.ticket_done = 0


def _write_hem(project: Project, hem: Hem) -> None:
    project.hem_kind, project.hem_depth_um, project.hem_fold_um = hem.kind, hem.depth_um, hem.fold_um
    project.hem_pick_order = hem.pick_order.text if hem.pick_order else ""
    project.hem_picks_numerator = hem.picks.count.numerator if hem.picks else None
    if hem.picks:
        project.hem_picks_denominator = hem.picks.count.denominator
        project.hem_picks_per_um = hem.picks.per_um


def _write_beams(project: Project, plan: Plan) -> None:
    """Made anew: nothing points at one."""
    project.beams.all().delete()
    ProjectBeam.objects.bulk_create(
        ProjectBeam(project=project, number=beam.number, take_up_ppm=_ppm(beam.take_up))
        for beam in plan.beams
    )


def _ppm(share: Fraction) -> int:
    """Shares are kept in millionths; the form refuses finer ones, so nothing is rounded here."""
    parts = share * PPM
    if parts.denominator != 1:
        raise Refusal("A percentage has at most four decimals here.")
    return parts.numerator


def _check_needs(worked: WorkedPlan) -> None:
    """Refuse a plan whose needs are beyond what anybody weaves, and beyond what can be kept."""
    for need in worked.needs:
        if need.buffered_total_um > MOST_UM:
            raise Refusal(
                f"The plan needs more than 10,000 km of {need.key}. Check sizes, sett and picks, or give fewer "
                "pieces.",
                field="pieces",
            )


def _without_shade(worked: WorkedPlan, shades: Mapping[str, int]) -> list[str]:
    return [need.key for need in worked.needs if need.key not in shades]


def _write_figures(project: Project, worked: WorkedPlan) -> None:
    if (project.ends, project.warp_um) != (worked.width.ends, worked.length.warp_um):
        project.ticket_done = 0
    project.ends, project.warp_um = worked.width.ends, worked.length.warp_um


def _write_shades(project: Project, shades: Mapping[str, int], worked: WorkedPlan) -> None:
    """Keep rows of shades that stay (their frozen grist and the wish for their lots with them), whatever their key was.

    Where another shade stands under a key, a wish for a lot or a cone of the old one falls away; one lot for warp and
    weft is wished of the new one as well.
    """
    needs: dict[str, ShadeNeed] = {need.key: need for need in worked.needs}
    wanted = dict(shades)
    for key in wanted:
        try:
            KEY(key)
        except ValidationError as error:
            raise Refusal(error.message, field="shades") from error
    if len(set(wanted.values())) < len(wanted):
        raise Refusal(
            "The same shade stands under two keys. Give each key a shade of its own.", field="shades"
        )
    kept = {row.shade_id: row for row in project.shades.all()}
    live = set(Shade.objects.live().filter(pk__in=wanted.values()).values_list("pk", flat=True)) | set(kept)
    if set(wanted.values()) - live:
        raise Refusal("A shade of this plan is retired or gone. Choose another.", field="shades")
    one_lot = {
        row.key for row in kept.values() if row.wish == LotWish.SAME and row.shade_id not in wanted.values()
    }
    # Keys may change places, and each may stand only once: clear, then write.
    project.shades.all().delete()
    rows = []
    for key, shade_id in sorted(wanted.items()):
        row = kept.get(shade_id) or ProjectShade(
            shade_id=shade_id, wish=LotWish.SAME if key in one_lot else LotWish.ANY
        )
        row.pk, row.project, row.key = None, project, key
        row._state.adding = True
        _write_need(row, needs.get(key), worked.plan.beam_of(key), worked.length_of(key).warp_um)
        rows.append(row)
    ProjectShade.objects.bulk_create(rows)


def _write_need(row: ProjectShade, need: ShadeNeed | None, beam: int, warp_um: int) -> None:
    """A key that the order does not use keeps its shade and needs nothing."""
    row.beam, row.warp_um = beam, warp_um
    for name in _SAME_IN_NEED:
        setattr(row, name, getattr(need, name) if need else 0)
