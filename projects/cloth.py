"""The picture of a project's cloth: the orders, the structure and the shades' own colours brought together."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from hashlib import sha256
from itertools import chain

from projects.judging import ShadeName
from stash.calc.cloth import (
    FLOATING_LEFT,
    FLOATING_RIGHT,
    ClothPicture,
    Rgb,
    cloth_picture,
    picks_within,
    picture_size,
)
from stash.calc.cloth_words import describe_cloth
from stash.calc.draft import Draft, Interlacing, threading_of
from stash.calc.losses import share_left
from stash.calc.needs import WorkedPlan
from stash.calc.sections import Section
from stash.models import Shade

UNDYED = (0xC9, 0xC2, 0xB2)
"""What a shade without a colour is drawn in."""
PAGE_LENGTH_UM = 381_000
"""A page shows the first 15 inches of a piece, or all of a shorter one."""
SMALL_UM = 101_600
"""A list shows a corner of four inches."""
WIDTH_PX, SMALL_WIDTH_PX, TALLEST_PX = 660, 240, 1400


@dataclass(frozen=True, slots=True)
class Face:
    """Which side of the cloth is looked at, and when: as it lies on the loom, or wet-finished."""

    back: bool = False
    finished: bool = False

    @property
    def words(self) -> str:
        return f"{'the back' if self.back else 'the face'}, {'finished' if self.finished else 'as woven'}"


FACE = Face()


@dataclass(frozen=True, slots=True)
class Threads:
    """The ends of the picture from the left, each with its shaft, and the colours that indices point into.

    Ends doubled in the heddle lie as one and are drawn as one.
    """

    keys: tuple[str, ...]
    shafts: tuple[int, ...]

    def __len__(self) -> int:
        return len(self.keys)


def threads_of(worked: WorkedPlan, weave: Interlacing) -> Threads:
    """The warp as it is threaded: floating selvedges stand in no heddle."""
    shown = [stretch for stretch in worked.layout.stretches if not stretch.shares_heddle]
    keys = tuple(chain.from_iterable(stretch.order.sequence() for stretch in shown))
    threaded = threading_of(weave, worked.layout.heddles)
    if worked.plan.selvedges.floating:
        return Threads(keys, (FLOATING_LEFT, *threaded, FLOATING_RIGHT))
    return Threads(keys, threaded)


def thread_um(worked: WorkedPlan, face: Face = FACE) -> tuple[Fraction, Fraction]:
    """From end to end and from pick to pick in um: in the reed and under tension, or finished."""
    plan = worked.plan
    end_um = worked.width.in_reed_um / _columns(worked)
    pick_um = plan.picks.length_um_of(1)
    if not face.finished:
        return end_um, pick_um
    return end_um * share_left(plan.losses_across), pick_um * share_left(plan.losses_along)


def lay_out(
    worked: WorkedPlan,
    weave: Interlacing,
    shades: Mapping[str, Shade],
    *,
    small: bool = False,
    face: Face = FACE,
) -> ClothPicture:
    """The first inches of a piece's body, at true proportions of sett and picks. Raises CalcError."""
    end_um, pick_um = thread_um(worked, face)
    threads = threads_of(worked, weave)
    if small:
        corner = max(1, int(SMALL_UM / end_um))
        threads = Threads(threads.keys[:corner], threads.shafts[:corner])
    picks = picks_within(body_picks(worked), pick_um, SMALL_UM * 3 // 4 if small else PAGE_LENGTH_UM)
    return draw(
        threads,
        picks,
        weave,
        shades,
        face,
        end_um=end_um,
        pick_um=pick_um,
        width_px=SMALL_WIDTH_PX if small else WIDTH_PX,
        tallest_px=TALLEST_PX,
    )


def draw(
    threads: Threads,
    picks: Sequence[str],
    weave: Interlacing,
    shades: Mapping[str, Shade],
    face: Face,
    *,
    end_um: Fraction,
    pick_um: Fraction,
    width_px: int,
    tallest_px: int,
    first_pick: int = 0,
) -> ClothPicture:
    """These ends and picks, given by their keys, in the colours of their shades."""
    keys = sorted({*threads.keys, *picks})
    place = {key: at for at, key in enumerate(keys)}
    return cloth_picture(
        [place[key] for key in threads.keys],
        [place[key] for key in picks],
        weave,
        [_rgb(shades.get(key)) for key in keys],
        end_um=end_um,
        pick_um=pick_um,
        width_px=width_px,
        tallest_px=tallest_px,
        back=face.back,
        shafts=threads.shafts,
        first_pick=first_pick,
    )


def size(worked: WorkedPlan) -> tuple[int, int]:
    """Width and height in px of the page's picture, for a page that only refers to it."""
    end_um, pick_um = thread_um(worked)
    shown = len(picks_within(range(_picks_shown(worked)), pick_um, PAGE_LENGTH_UM))
    return picture_size(_columns(worked) * end_um, shown * pick_um, width_px=WIDTH_PX, tallest_px=TALLEST_PX)


def in_words(worked: WorkedPlan, weave: Interlacing, shades: Mapping[str, Shade]) -> str:
    """The text alternative of the picture."""
    ends, picks = threads_of(worked, weave).keys, body_picks(worked)
    named = {key: shades[key].name if key in shades else key for key in {*ends, *picks}}
    return describe_cloth(weave, [named[key] for key in ends], [named[key] for key in picks])


def caption(worked: WorkedPlan, weave: Interlacing) -> str:
    """2/2 twill. Three repeats of 58 ends, balanced by 20."""
    name = f"{weave.name} on {weave.shafts} shafts" if isinstance(weave, Draft) else weave.name
    start = f"{name[0].upper()}{name[1:]}, as woven."
    width, plan = worked.width, worked.plan
    if width.repeats is None:
        return f"{start} {width.ends:,} ends as written."
    repeats = f"{width.repeats:,} repeat{'' if width.repeats == 1 else 's'} of {plan.order.length:,} ends"
    return f"{start} {repeats}{f', balanced by {plan.balance_ends:,}' if plan.balance_ends else ''}."


def mark(version: int, structure_key: str, shades: Mapping[str, Shade | ShadeName]) -> str:
    """Changes whenever the picture does, so that browsers may keep it for good. A draft changes with the version."""
    colours = ",".join(f"{key}{shade.colour}" for key, shade in sorted(shades.items()))
    return sha256(f"2|{version}|{structure_key}|{colours}".encode()).hexdigest()[:12]


def body_picks(worked: WorkedPlan) -> list[str]:
    """As many picks of a piece's body as a page shows, and one more, each by its key."""
    picks: list[str] = []
    most = _picks_shown(worked)
    for stretch in _body(worked).stretches:
        picks += stretch.sequence(most - len(picks))
    return picks


def _body(worked: WorkedPlan) -> Section:
    return next(section for section in worked.weft.sections if section.part == "body")


def _picks_shown(worked: WorkedPlan) -> int:
    # Losses bring more picks into the same length.
    length_um = PAGE_LENGTH_UM / share_left(worked.plan.losses_along)
    in_page = int(worked.plan.picks.number_in(length_um)) + 1
    return max(1, min(_body(worked).picks, in_page))


def _columns(worked: WorkedPlan) -> int:
    """Ends that the picture shows."""
    return worked.layout.heddles + 2 * worked.plan.selvedges.floating


def _rgb(shade: Shade | None) -> Rgb:
    if shade is None or not shade.colour:
        return UNDYED
    return int(shade.colour[1:3], 16), int(shade.colour[3:5], 16), int(shade.colour[5:7], 16)
