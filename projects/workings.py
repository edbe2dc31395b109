"""Derived figures of a plan with their workings: every one can be opened and read as a sum."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils.translation import gettext as _

from projects.plan_words import ends_words
from projects.wording import counted
from stash.calc.losses import share_left
from stash.calc.needs import WorkedPlan
from stash.calc.plan import Plan
from stash.calc.sections import work_woven
from stash.calc.warp import Length
from stash.calc.writing import Measures, decimal

SMALLEST_SAMPLE_UM = 50_800
"""Two inches: less of a warp is no sample."""


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
        *_warps(worked, measures, piece_name),
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
        steps = [Step("all ends of the order, as it is written", decimal(plan.order.length))]
        steps += [*_added_ends(worked), Step("ends", decimal(width.ends), True)]
        return Figure("Ends", decimal(width.ends), steps)
    steps = [
        Step("finished size across", measures.short_length(plan.across_um)),
        *_losses(plan.losses_across, ("draw-in", "shrinkage"), measures),
        Step("width on the loom", measures.short_length(width.on_loom_um)),
        Step(f"at {measures.density(plan.sett_to_fill)}", f"{decimal(width.target_ends, 1)} ends"),
        Step(
            f"{counted(width.repeats, 'repeat')} of {counted(plan.order.length, 'end')}, rounded up so that no piece "
            "is narrower than asked",
            decimal(width.repeats * plan.order.length),
        ),
    ]
    if plan.balance_ends:
        steps.append(Step("balance: the first ends once more", f"+ {plan.balance_ends}"))
    if plan.border:
        steps.append(
            Step(f"borders: twice {counted(plan.border.length, 'end')}", f"+ {2 * plan.border.length}")
        )
    steps += [*_added_ends(worked), Step("ends", decimal(width.ends), True)]
    return Figure("Ends", decimal(width.ends), steps)


def _added_ends(worked: WorkedPlan) -> Iterator[Step]:
    """What stands beside the pattern."""
    plan, selvedges = worked.plan, worked.plan.selvedges
    if plan.accents and plan.accent_way == "added":
        yield Step("accents in addition", f"+ {sum(accent.number for accent in plan.accents):,}")
    if selvedges.doubled_ends:
        yield Step(
            f"doubled: {counted(selvedges.doubled_ends, 'outermost end')} on each side",
            f"+ {2 * selvedges.doubled_ends}",
        )
    if selvedges.floating:
        yield Step(_("floating selvedges, in no heddle"), "+ 2")


def _reed_width(worked: WorkedPlan, measures: Measures) -> Figure:
    value = measures.short_length(worked.width.in_reed_um)
    width = worked.width
    steps = [Step("ends", decimal(width.ends))]
    if width.places != width.ends:
        steps.append(
            Step("ends that share a dent with the one beside them", f"− {width.ends - width.places}")
        )
        steps.append(Step("places in the reed", decimal(width.places)))
    word = "ends" if width.places == width.ends else "places"
    sleyed = worked.plan.sleyed
    if sleyed:
        used = sleyed.sley.dents_used(width.places, worked.plan.selvedges.floating)
        steps += [
            Step(f"sleyed {sleyed.sley.text}: dents used", decimal(used)),
            Step("reed", measures.density(sleyed.reed, "dents")),
            Step("dents used ÷ dents of the reed", value, True),
        ]
        return Figure("Width in the reed", value, steps)
    steps += [
        Step("sett", measures.density(worked.plan.sett)),
        Step(f"{word} ÷ sett, before a sley is chosen", value, True),
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
    if plan.hem_cloth_um:
        kind = "" if plan.hem.kind == "given" else f": {ends_words(plan, measures)}"
        steps.append(Step(f"hem cloth, both ends{kind}", f"+ {measures.short_length(plan.hem_cloth_um)}"))
    steps += _losses(plan.losses_along, ("relaxation", "shrinkage"), measures)
    longer = worked.length.woven_um - work_woven(plan).asked_um
    if longer:
        why = "up to whole repeats" if plan.whole_pick_repeats else "picks of added accents"
        steps.append(Step(why, f"+ {measures.short_length(longer)}"))
    steps.append(Step("woven under tension", value, True))
    return Figure("Woven length of one piece", value, steps)


def _warps(worked: WorkedPlan, measures: Measures, piece_name: str) -> Iterator[Figure]:
    """One figure for each beam."""
    for beam, length in worked.lengths.items():
        name = "Warp length" if len(worked.lengths) == 1 else f"Warp length, beam {beam}"
        yield _warp(name, length, worked.plan, measures, piece_name)


def _warp(name: str, length: Length, plan: Plan, measures: Measures, piece_name: str) -> Figure:
    short = measures.short_length
    value = measures.warp_length(length.warp_um)
    words = "1 piece" if plan.pieces == 1 else f"{plan.pieces:,} {piece_name}"
    steps = [Step(f"{words} of {short(length.woven_um)}", short(length.woven_total_um))]
    if plan.sample_um:
        steps.append(Step("sample", f"+ {short(plan.sample_um)}"))
    if length.take_up:
        steps.append(
            Step(
                f"with {measures.percent(length.take_up, 2)} take-up, of the woven length",
                short(length.with_take_up_um),
            )
        )
    if length.gaps_um:
        gap = "gap of two fringes," if plan.fringe else "gap of"
        gaps = "gaps of two fringes," if plan.fringe else "gaps of"
        between = counted(plan.pieces - 1, gap, gaps)
        steps.append(Step(f"{between} {short(plan.between_um)}", f"+ {short(length.gaps_um)}"))
    if plan.header_um:
        steps.append(Step("header", f"+ {short(plan.header_um)}"))
    steps.append(Step("loom waste, once per warp", f"+ {short(plan.waste_um)}"))
    if length.fringe_excess_um:
        steps.append(
            Step("outer fringes, beyond the waste at their ends", f"+ {short(length.fringe_excess_um)}")
        )
    steps.append(Step("needed", f"{short(length.exact_um)}, {measures.long_length(length.exact_um)}", True))
    if length.board_buys_um >= 1:
        steps.append(
            Step(
                f"rounding up to the warping board buys{_bought(length, plan, measures)}",
                short(length.board_buys_um),
            )
        )
    return Figure(name, value, steps)


def _bought(length: Length, plan: Plan, measures: Measures) -> str:
    """What can be done with it: a further piece, else a sample; a quarter inch is neither."""
    left = length.board_buys_um - plan.between_um
    if left >= length.woven_um * (1 + length.take_up):
        return ", room for a further piece"
    sample = length.board_buys_um / (1 + length.take_up)
    if sample < SMALLEST_SAMPLE_UM:
        return ""
    return f", room for a sample of {measures.short_length(sample)}"


def _picks(worked: WorkedPlan, measures: Measures) -> Figure:
    plan, weft = worked.plan, worked.weft
    value = decimal(weft.picks_per_piece)
    steps = [*_sections(worked, measures)]
    if len(steps) > 1:
        steps.append(Step("picks in one piece", value, True))
    steps.append(Step(f"times {plan.pieces:,}", decimal(plan.pieces * weft.picks_per_piece)))
    if weft.sample_picks:
        steps.append(Step("sample", f"+ {decimal(weft.sample_picks)}"))
    steps.append(Step("picks in all", decimal(weft.total_picks), True))
    return Figure("Picks in one piece", value, steps)


def _sections(worked: WorkedPlan, measures: Measures) -> Iterator[Step]:
    """Hem, body, hem where they are counted apart, each rounded up; else the piece in one."""
    plan, weft = worked.plan, worked.weft
    if not (plan.hem.woven_apart or plan.whole_pick_repeats) or len(weft.sections) == 1:
        woven = measures.short_length(worked.length.woven_um)
        yield Step(f"{woven} at {measures.density(plan.picks, 'picks')}", decimal(weft.picks_per_piece))
        return
    for section in weft.sections:
        woven = measures.short_length(section.woven_um)
        yield Step(
            f"{section.part}: {woven} at {measures.density(section.density, 'picks')}", decimal(section.picks)
        )


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
    steps = [] if plan.warps == 1 else [Step("like warps, each with its weft", f"× {plan.warps:,}")]
    steps += [
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
