"""Derived figures of a plan with their workings: every one can be opened and read as a sum."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from projects.wording import counted
from stash.calc.losses import share_left
from stash.calc.needs import WorkedPlan
from stash.calc.writing import Measures, decimal


@dataclass(frozen=True, slots=True)
class Step:
    words: str
    figure: str
    is_sum: bool = False


@dataclass(frozen=True, slots=True)
class Figure:
    name: str
    value: str
    steps: Sequence[Step] = ()


def figures(worked: WorkedPlan, measures: Measures, piece_name: str = "pieces") -> list[Figure]:
    """The figures of the plan, in the order of the job: across, along, weft."""
    return [
        _ends(worked, measures),
        _reed_width(worked, measures),
        _finished_width(worked, measures),
        _woven(worked, measures),
        _warp(worked, measures, piece_name),
        _picks(worked, measures),
        _pick(worked, measures),
        _yarn(worked, measures),
    ]


def _losses(losses: tuple[Fraction, ...], names: tuple[str, str], measures: Measures) -> list[Step]:
    if len(losses) == 1:
        return [Step("divided by what the loss leaves", f"÷ {measures.percent(1 - losses[0], 2)}")]
    return [
        Step(f"divided by what {name} leaves", f"÷ {measures.percent(1 - loss, 2)}")
        for name, loss in zip(names, losses, strict=True)
    ]


def _ends(worked: WorkedPlan, measures: Measures) -> Figure:
    plan, width = worked.plan, worked.width
    if width.repeats is None:
        steps = [Step("all ends of the order, as it is written", decimal(width.ends), True)]
        return Figure("Ends", decimal(width.ends), steps)
    steps = [
        Step("finished size across", measures.short_length(plan.across_um)),
        *_losses(plan.losses_across, ("draw-in", "shrinkage"), measures),
        Step("width on the loom", measures.short_length(width.on_loom_um)),
        Step(f"at {measures.density(plan.sett)}", f"{decimal(width.target_ends, 1)} ends"),
        Step(
            f"{counted(width.repeats, 'repeat')} of {counted(plan.order.length, 'end')}, rounded up so that no piece "
            "is narrower than asked",
            decimal(width.repeats * plan.order.length),
        ),
    ]
    if plan.balance_ends:
        steps.append(Step("balance: the first ends once more", f"+ {plan.balance_ends}"))
    steps.append(Step("ends", decimal(width.ends), True))
    return Figure("Ends", decimal(width.ends), steps)


def _reed_width(worked: WorkedPlan, measures: Measures) -> Figure:
    value = measures.short_length(worked.width.in_reed_um)
    steps = [
        Step("ends", decimal(worked.width.ends)),
        Step("sett", measures.density(worked.plan.sett)),
        Step("ends ÷ sett, before a sley is chosen", value, True),
    ]
    return Figure("Width in the reed", value, steps)


def _finished_width(worked: WorkedPlan, measures: Measures) -> Figure:
    plan, width = worked.plan, worked.width
    value = measures.short_length(width.finished_um)
    steps = [
        Step("width in the reed", measures.short_length(width.in_reed_um)),
        Step("left after the losses", f"× {measures.percent(share_left(plan.losses_across), 2)}"),
        Step("finished width", value, True),
        Step("asked for", measures.short_length(plan.across_um)),
    ]
    if width.lower:
        steps.append(
            Step(
                f"one repeat fewer: {counted(width.lower.ends, 'end')}",
                measures.short_length(width.lower.finished_um),
            )
        )
    return Figure("Finished width that results", value, steps)


def _woven(worked: WorkedPlan, measures: Measures) -> Figure:
    plan = worked.plan
    value = measures.short_length(worked.length.woven_um)
    steps = [Step("finished size along the warp", measures.short_length(plan.along_um))]
    if plan.hem_um:
        steps.append(Step("hem cloth, both ends", f"+ {measures.short_length(plan.hem_um)}"))
    steps += _losses(plan.losses_along, ("relaxation", "shrinkage"), measures)
    steps.append(Step("woven under tension", value, True))
    return Figure("Woven length of one piece", value, steps)


def _warp(worked: WorkedPlan, measures: Measures, piece_name: str) -> Figure:
    plan, length = worked.plan, worked.length
    short = measures.short_length
    value = measures.warp_length(length.warp_um)
    words = "1 piece" if plan.pieces == 1 else f"{plan.pieces:,} {piece_name}"
    steps = [Step(f"{words} of {short(length.woven_um)}", short(length.woven_total_um))]
    if plan.sample_um:
        steps.append(Step("sample", f"+ {short(plan.sample_um)}"))
    if plan.take_up:
        steps.append(
            Step(
                f"with {measures.percent(plan.take_up, 2)} take-up, of the woven length",
                short(length.with_take_up_um),
            )
        )
    if length.gaps_um:
        steps.append(
            Step(f"{counted(plan.pieces - 1, 'gap')} of {short(plan.gap_um)}", f"+ {short(length.gaps_um)}")
        )
    if plan.header_um:
        steps.append(Step("header", f"+ {short(plan.header_um)}"))
    steps.append(Step("loom waste, once per warp", f"+ {short(plan.waste_um)}"))
    steps.append(Step("needed", f"{short(length.exact_um)}, {measures.long_length(length.exact_um)}", True))
    if length.board_buys_um >= 1:
        steps.append(Step("rounding up to the warping board buys", short(length.board_buys_um)))
    return Figure("Warp length", value, steps)


def _picks(worked: WorkedPlan, measures: Measures) -> Figure:
    plan, weft = worked.plan, worked.weft
    value = decimal(weft.picks_per_piece)
    steps = [
        Step(
            f"{measures.short_length(worked.length.woven_um)} at {measures.density(plan.picks, 'picks')}",
            value,
        ),
        Step(f"times {plan.pieces:,}", decimal(plan.pieces * weft.picks_per_piece)),
    ]
    if weft.sample_picks:
        steps.append(Step("sample", f"+ {decimal(weft.sample_picks)}"))
    steps.append(Step("picks in all", decimal(weft.total_picks), True))
    return Figure("Picks in one piece", value, steps)


def _pick(worked: WorkedPlan, measures: Measures) -> Figure:
    plan, weft = worked.plan, worked.weft
    value = measures.short_length(weft.pick_um)
    tails = (
        f"{counted(weft.changes_per_piece, 'tail')} of {measures.short_length(plan.tail_um)}"
        if weft.changes_per_piece
        else "none"
    )
    steps = [
        Step("width in the reed", measures.short_length(worked.width.in_reed_um)),
        Step(f"with {measures.percent(plan.weft_take_up, 2)} weft take-up, of that width", value, True),
        Step("tails where a shuttle begins, in one piece", tails),
    ]
    return Figure("Weft in one pick", value, steps)


def _yarn(worked: WorkedPlan, measures: Measures) -> Figure:
    bare = sum(need.total_um for need in worked.needs)
    buffered = sum(need.buffered_total_um for need in worked.needs)
    long = measures.long_length
    plan = worked.plan
    steps = [
        Step("warp: ends × warp length", long(sum(need.warp_total_um for need in worked.needs), "up")),
        Step("weft: picks × pick, and tails", long(sum(need.weft_um for need in worked.needs), "up")),
        Step("without buffer", long(bare, "up"), True),
        Step(
            f"buffer: {measures.percent(plan.warp_buffer, 2)} of the ends, at least one for an accent; "
            f"{measures.percent(plan.weft_buffer, 2)} of the weft",
            f"+ {long(buffered - bare, 'up')}",
        ),
        Step("with the buffer", long(buffered, "up"), True),
    ]
    return Figure("Yarn in all, without buffer", long(bare, "up"), steps)
