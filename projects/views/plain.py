"""The plan as plain figures: for those who may read it but not change it, and for paper."""

from django.utils.translation import gettext as _

from projects.models import LossWay, Project
from stash.calc.structure import structure
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
        ("Hem cloth, both ends", short(plan.hem_um) if plan.hem_um else ""),
        ("Gap between pieces", short(plan.gap_um) if plan.gap_um else ""),
        ("Sample", short(plan.sample_um) if plan.sample_um else ""),
        ("Header", short(plan.header_um) if plan.header_um else ""),
        ("Sett", measures.density(plan.sett)),
        ("Picks", measures.density(plan.picks, "picks")),
        ("Structure", structure(project.structure).name),
        (_("Colour order"), plan.order.text),
        ("This order is", "a repeat that fills the width" if plan.order_fills else "the whole warp"),
        ("Balance, the first ends once more", f"{plan.balance_ends:,}" if plan.balance_ends else ""),
        ("Pick order", plan.pick_order.text),
        *_losses(project, measures),
        ("Warp take-up, of the woven length", measures.percent(plan.take_up, 4)),
        ("Weft take-up, of the width in the reed", measures.percent(plan.weft_take_up, 4)),
        ("Loom waste, once per warp", short(plan.waste_um)),
        ("Tail where a shuttle begins", short(plan.tail_um)),
        ("Idle shuttle carried up to", f"{plan.carry_picks:,} picks"),
        ("Buffer on the ends", measures.percent(plan.warp_buffer, 4)),
        ("Buffer on the weft", measures.percent(plan.weft_buffer, 4)),
        ("Warping board steps", measures.warp_length(plan.board_um) if plan.board_um else "no rounding"),
        ("Kept back on every cone", f"{plan.keep_back:,} warp lengths" if plan.keep_back else ""),
    ]
    return [fact for fact in facts if fact[1]]


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
