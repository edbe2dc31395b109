"""The picture of a project's cloth: the orders, the structure and the shades' own colours brought together."""

from collections.abc import Mapping
from hashlib import sha256

from projects.judging import ShadeName
from stash.calc.cloth import ClothPicture, cloth_picture, picks_within, picture_size
from stash.calc.cloth_words import describe_cloth
from stash.calc.needs import WorkedPlan
from stash.calc.structure import structure
from stash.models import Shade

UNDYED = (0xC9, 0xC2, 0xB2)
"""What a shade without a colour is drawn in."""
PAGE_LENGTH_UM = 381_000
"""A page shows the first 15 inches of a piece, or all of a shorter one."""
SMALL_UM = 101_600
"""A list shows a corner of four inches."""
WIDTH_PX, SMALL_WIDTH_PX, TALLEST_PX = 660, 240, 1400


def lay_out(
    worked: WorkedPlan, structure_name: str, shades: Mapping[str, Shade], *, small: bool = False
) -> ClothPicture:
    """The picture as woven, at true proportions of sett and picks. Raises CalcError."""
    plan = worked.plan
    end_um, pick_um = plan.sett.length_um_of(1), plan.picks.length_um_of(1)
    ends, picks = _threads(worked)
    if small:
        ends = ends[: max(1, int(SMALL_UM / end_um))]
    picks = picks_within(picks, pick_um, SMALL_UM * 3 // 4 if small else PAGE_LENGTH_UM)
    keys = sorted({*ends, *picks})
    colours = [_rgb(shades.get(key)) for key in keys]
    place = {key: at for at, key in enumerate(keys)}
    return cloth_picture(
        [place[key] for key in ends],
        [place[key] for key in picks],
        structure(structure_name),
        colours,
        end_um=end_um,
        pick_um=pick_um,
        width_px=SMALL_WIDTH_PX if small else WIDTH_PX,
        tallest_px=TALLEST_PX,
    )


def size(worked: WorkedPlan) -> tuple[int, int]:
    """Width and height in px of the page's picture, for a page that only refers to it."""
    plan = worked.plan
    pick_um = plan.picks.length_um_of(1)
    shown = len(picks_within(range(_picks_shown(worked)), pick_um, PAGE_LENGTH_UM))
    return picture_size(
        worked.width.ends * plan.sett.length_um_of(1),
        shown * pick_um,
        width_px=WIDTH_PX,
        tallest_px=TALLEST_PX,
    )


def in_words(worked: WorkedPlan, structure_name: str, shades: Mapping[str, Shade]) -> str:
    """The text alternative of the picture."""
    ends, picks = _threads(worked)
    named = {key: shades[key].name if key in shades else key for key in {*ends, *picks}}
    return describe_cloth(
        structure(structure_name), [named[key] for key in ends], [named[key] for key in picks]
    )


def caption(worked: WorkedPlan, structure_name: str) -> str:
    """2/2 twill. Three repeats of 58 ends, balanced by 20."""
    name = structure(structure_name).name
    start = f"{name[0].upper()}{name[1:]}, as woven."
    width, plan = worked.width, worked.plan
    if width.repeats is None:
        return f"{start} {width.ends:,} ends as written."
    repeats = f"{width.repeats:,} repeat{'' if width.repeats == 1 else 's'} of {plan.order.length:,} ends"
    return f"{start} {repeats}{f', balanced by {plan.balance_ends:,}' if plan.balance_ends else ''}."


def mark(version: int, structure_name: str, shades: Mapping[str, Shade | ShadeName]) -> str:
    """Changes whenever the picture does, so that browsers may keep it for good."""
    colours = ",".join(f"{key}{shade.colour}" for key, shade in sorted(shades.items()))
    return sha256(f"1|{version}|{structure_name}|{colours}".encode()).hexdigest()[:12]


def _threads(worked: WorkedPlan) -> tuple[list[str], list[str]]:
    order = worked.plan.pick_order.sequence()
    picks = [order[at % len(order)] for at in range(_picks_shown(worked))]
    return list(worked.warp_order.sequence()), picks


def _picks_shown(worked: WorkedPlan) -> int:
    """As many picks of a piece as a page shows, and one more."""
    return max(1, min(worked.weft.picks_per_piece, int(worked.plan.picks.number_in(PAGE_LENGTH_UM)) + 1))


def _rgb(shade: Shade | None) -> tuple[int, int, int]:
    if shade is None or not shade.colour:
        return UNDYED
    return int(shade.colour[1:3], 16), int(shade.colour[3:5], 16), int(shade.colour[5:7], 16)
