"""What a weaver wants to be told about a plan before winding: things that no single figure says."""

from collections.abc import Iterator, Mapping, Sequence

from projects.wording import counted
from stash.calc.accents import PlacedAccent
from stash.calc.needs import WorkedPlan
from stash.calc.writing import Measures
from stash.models import Shade


def remarks(worked: WorkedPlan, shades: Mapping[str, Shade], measures: Measures) -> Sequence[str]:
    """Sentences, the weightiest first; most plans have none or one."""
    return [
        *_wider(worked, measures),
        *_edges(worked, shades),
        *(_accent(accent, shades, worked) for accent in worked.layout.accents),
        *_longer(worked, measures),
        *_fringes(worked, measures),
    ]


def _name(key: str, shades: Mapping[str, Shade]) -> str:
    return shades[key].name if key in shades else key


def _wider(worked: WorkedPlan, measures: Measures) -> Iterator[str]:
    """The order has the last word on the width: said where it is not what was asked for."""
    plan, width, short = worked.plan, worked.width, measures.short_length
    asked, comes = short(plan.across_um), short(width.finished_um)
    if asked == comes:
        return
    if width.repeats == 1 and width.target_ends < plan.order.length:
        yield (
            f"One repeat alone is wider than asked: {comes} instead of {asked}. Give a shorter repeat, or change "
            "the finished size across."
        )
    elif width.repeats is None:
        yield (
            f"The order as written gives {comes} across; {asked} was asked for. Change the order, the sett or "
            "the finished size across."
        )


def _edges(worked: WorkedPlan, shades: Mapping[str, Shade]) -> Iterator[str]:
    """Both edges of a balanced piece carry the same shade."""
    plan = worked.plan
    keys = worked.layout.heddle_keys()
    if not plan.order_fills or plan.border or plan.balance_ends or keys[0] == keys[-1]:
        return
    yield (
        f"The left edge is {_name(keys[0], shades)}, the right edge {_name(keys[-1], shades)}. Balancing by the first "
        "ends once more makes them alike."
    )


def _accent(placed: PlacedAccent, shades: Mapping[str, Shade], worked: WorkedPlan) -> str:
    accent = placed.accent
    what = f"{counted(accent.number, 'accent end')} of {_name(accent.key, shades)}"
    if worked.plan.accent_way == "replaces":
        return f"{what}, instead of {_stands(placed.place, accent.number)}: every other end keeps its shaft."
    where = (
        f"{what}, added after end {placed.place:,}" if placed.place else f"{what}, added before the first end"
    )
    if placed.effect == "flips":
        return f"{where}: every later end moves on by one, so in plain weave to the other shaft, and blocks flip there."
    if placed.effect == "mirrors":
        return (
            f"{where}, between two like ends: they would flip the block side by side; parted by the accent they do "
            "not, and the picture is mirrored about it."
        )
    return f"{where}: in plain weave every end keeps its shaft."


def _stands(place: int, number: int) -> str:
    return f"end {place + 1:,}" if number == 1 else f"ends {place + 1:,} to {place + number:,}"


def _longer(worked: WorkedPlan, measures: Measures) -> Iterator[str]:
    plan, short = worked.plan, measures.short_length
    asked, comes = short(plan.along_um), short(worked.length.finished_um)
    if asked != comes:
        why = (
            f"whole repeats of {counted(plan.pick_order.length, 'pick')}"
            if plan.whole_pick_repeats
            else "the picks of the added accents"
        )
        yield f"A piece comes to {comes} along the warp instead of {asked}: {why}."


def _fringes(worked: WorkedPlan, measures: Measures) -> Iterator[str]:
    excess = worked.length.fringe_excess_um
    if excess:
        yield (
            f"The outer fringes reach {measures.short_length(excess)} beyond the loom waste at their ends; that is in "
            "the warp length."
        )
