"""What a weaver wants to be told about a plan before winding: things that no single figure says."""

from collections.abc import Iterator, Mapping, Sequence

from projects.wording import counted, together
from stash.calc.needs import WorkedPlan
from stash.calc.writing import Measures
from stash.models import Shade


def remarks(worked: WorkedPlan, shades: Mapping[str, Shade], measures: Measures) -> Sequence[str]:
    """Sentences, the weightiest first; most plans have none or one."""
    return [
        *_wider(worked, measures),
        *_edges(worked, shades),
        *_accents(worked, shades),
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
    if width.repeats == 1 and width.target_ends < width.pattern_ends:
        what, shorter = (
            ("One repeat with its borders and balance", "Shorten one of them")
            if plan.border or plan.balance_ends
            else ("One repeat alone", "Give a shorter repeat")
        )
        yield f"{what} is wider than asked: {comes} instead of {asked}. {shorter}, or change the finished size across."
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


def _accents(worked: WorkedPlan, shades: Mapping[str, Shade]) -> Iterator[str]:
    """Accents that are alike in shade and in what they do are told of together."""
    alike: dict[tuple[str, int, str], list[int]] = {}
    for placed in worked.layout.accents:
        accent = placed.accent
        alike.setdefault((accent.key, accent.number, placed.effect), []).append(placed.place)
    for (key, number, effect), places in alike.items():
        what = f"{counted(number, 'accent end')} of {_name(key, shades)}"
        if worked.plan.accent_way == "replaces":
            yield f"{what} in the place of {_ends(places, number)}: all others keep their shafts."
        else:
            where = "before the first end" if places == [0] else f"after {_ends([at - 1 for at in places])}"
            yield f"{what}, added {where}: {_DOES[effect]}"


def _ends(places: Sequence[int], number: int = 1) -> str:
    """end 33; ends 33 and 60; ends 33 to 34. Places count from 0, people from 1."""
    spans = [f"{at + 1:,}" if number == 1 else f"{at + 1:,} to {at + number:,}" for at in places]
    return f"{'end' if number == len(places) == 1 else 'ends'} {together(spans)}"


_DOES: Mapping[str, str] = {
    "none": "in plain weave all others keep their shafts.",
    "moves": "later ends move on by one, in plain weave to the other shaft.",
    "flips": "later ends move on by one, in plain weave to the other shaft, so that the block flips there.",
    "mirrors": (
        "side by side the two like ends would flip the block; parted they do not, and the picture is mirrored there."
    ),
}


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
