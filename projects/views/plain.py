"""The plan as plain figures: for those who may read it but not change it, and for paper."""

from dataclasses import replace

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from projects.models import LossWay, Project
from projects.plan_words import across_words, ends_words, several_words, weft_words
from projects.wish_words import wish_words
from stash.calc.accents import write_accents
from stash.calc.draft import DRAFT
from stash.calc.plan import Plan
from stash.calc.writing import Measures


def plan_facts(project: Project, measures: Measures) -> list[tuple[str, str]]:
    """Every figure that a person decided, as (label, text); what is nothing is left out."""
    plan = project.plan
    short = measures.short_length
    facts = [
        ("Pieces", f"{plan.pieces:,} {project.piece_name}"),
        (
            "Finished size, across × along the warp",
            f"{short(plan.across_um)} × {short(plan.along_um)}",
        ),
        ("A piece ends in", ends_words(plan, measures)),
        ("Gap between pieces", short(plan.gap_um) if plan.gap_um and not plan.fringe else ""),
        ("Sample", short(plan.sample_um) if plan.sample_um else ""),
        ("Header", short(plan.header_um) if plan.header_um else ""),
        ("Sett", measures.density(plan.sett)),
        ("Picks", measures.density(plan.picks, "picks")),
        ("Structure", project.weave.name),
        *_draft(project),
        (_("Colour order"), plan.order.text),
        ("This order is", "a repeat that fills the width" if plan.order_fills else "the whole warp"),
        ("Balance, the first ends once more", f"{plan.balance_ends:,}" if plan.balance_ends else ""),
        ("Border, mirrored at the right", plan.border.text if plan.border else ""),
        ("Accent ends", _accents(plan)),
        ("Edges", across_words(replace(plan, border=None, accents=()))),
        ("Pick order", plan.pick_order.text),
        ("Along a piece", weft_words(plan, measures)),
        *_wishes(project),
        *_losses(project, measures),
        ("Warp take-up, of the woven length", measures.percent(plan.take_up, 4)),
        ("Weft take-up, of the width in the reed", measures.percent(plan.weft_take_up, 4)),
        ("Further beams", several_words(replace(plan, warps=1), measures)),
        *_gear(project, plan, measures),
        ("Loom waste, once per warp", _waste(plan, measures)),
        ("Like warps", _kits(project)),
        ("Tail where a shuttle begins", short(plan.tail_um)),
        ("Idle shuttle carried up to", f"{plan.carry_picks:,} picks"),
        ("Buffer on the ends", measures.percent(plan.warp_buffer, 4)),
        ("Buffer on the weft", measures.percent(plan.weft_buffer, 4)),
        ("Warping board steps", measures.warp_length(plan.board_um) if plan.board_um else "no rounding"),
        ("Kept back on every cone", f"{plan.keep_back:,} warp lengths" if plan.keep_back else ""),
    ]
    return [fact for fact in facts if fact[1]]


def _wishes(project: Project) -> list[tuple[str, str]]:
    """Which lots are wished for, where any are."""
    return [(f"Lots of {row.shade.name}", wish_words(row)) for row in project.shades.all()]


def _gear(project: Project, plan: Plan, measures: Measures) -> list[tuple[str, str]]:
    """What it is woven with, where that is chosen."""
    if not project.loom_id and not project.reed_id:
        return []
    sley = f", sleyed {plan.sleyed.sley.text}: {measures.density(plan.sleyed.sett)}" if plan.sleyed else ""
    dressing = f", {project.get_dressing_display()}"
    return [
        ("Loom", f"{project.loom.name}{dressing}" if project.loom else ""),
        ("Reed", f"{project.reed.name}{sley}" if project.reed else ""),
        ("Off the loom on", date_format(project.off_on, "j F Y") if project.off_on else ""),
    ]


def _draft(project: Project) -> list[tuple[str, str]]:
    """The lines of a draft of its own, where the plan has one."""
    if project.structure != DRAFT:
        return []
    return [
        ("Threading, from the left", project.threading),
        ("Tie-up, treadle by treadle", project.tie_up),
        ("Treadling, from the first pick", project.treadling),
        ("Lift plan, from the first pick", project.lift_plan),
    ]


def _accents(plan: Plan) -> str:
    if not plan.accents:
        return ""
    way = "added" if plan.accent_way == "added" else "instead of ends"
    return f"{write_accents(plan.accents)}; {way}{', in the weft too' if plan.accents_in_weft else ''}"


def _waste(plan: Plan, measures: Measures) -> str:
    front = f", {measures.short_length(plan.waste_front_um)} of it in front" if plan.fringe else ""
    return f"{measures.short_length(plan.waste_um)}{front}"


def _kits(project: Project) -> str:
    """8: 6 for students, 1 to show with, 1 to spare."""
    sorts = (
        (project.kit_students, "for students"),
        (project.kit_demo, "to show with"),
        (project.kit_spare, "to spare"),
    )
    kits = ", ".join(f"{number:,} {what}" for number, what in sorts if number)
    return f"{project.warps:,}: {kits}" if kits else ""


def _losses(project: Project, measures: Measures) -> list[tuple[str, str]]:
    plan = project.plan
    if project.loss_way == LossWay.SPLIT:
        labels = (
            "Draw-in, of the width in the reed",
            "Shrinkage across, of the width off the loom",
            "Relaxation, of the woven length",
            "Shrinkage along, of the length off the loom",
        )
    else:
        labels = ("Total loss, of the width in the reed", "Total loss, of the woven length")
    shares = (*plan.losses_across, *plan.losses_along)
    return [(label, measures.percent(share, 4)) for label, share in zip(labels, shares, strict=True)]
