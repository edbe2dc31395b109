"""Cutting off: the cloth comes off the loom, and what is left of the warp there is worth knowing of.

A warp that is tied on to the rest of another needs as many ends, in the same order and at the same sett, and loses
far less of its length; with the rest gone that is gone (common practice, no source).
"""

from dataclasses import dataclass

from django.db import transaction

from projects.models import Project, Stage
from projects.services.stages import lock_live, lock_loom, move
from stash.calc.quantity import MOST_UM
from stash.models import Loom, Person
from stash.services.refusal import Refusal

MOST_ENDS = 1_000_000
MOST_ORDER = Loom._meta.get_field("left_of").max_length


@dataclass(frozen=True, slots=True)
class Left:
    """A rest of a warp on a loom: so long, of so many ends, of what and in which order."""

    um: int
    ends: int
    of: str


@transaction.atomic
def cut_off(
    *,
    pk: int,
    by: Person,
    loom_id: int | None = None,
    left: Left | None = None,
    went_well: bool = False,
    stood: str | None = None,
) -> Project:
    """The project is cut off; the loom knows what is left on it, which is nothing if `left` is None.

    With `went_well` the loom has taken a warp of this length, if it took none as long before. Raises Refusal naming
    the field.
    """
    project = lock_live(pk)
    if project.stage == Stage.CUT_OFF or (stood is not None and stood != project.stage):
        raise Refusal(
            f"It stands at “{project.get_stage_display()}” already. Look at it again before moving it."
        )
    if left is not None:
        _check(left, loom_id)
    words = ""
    if loom_id is not None:
        loom = lock_loom(loom_id)
        loom.left_um, loom.left_ends, loom.left_of = (left.um, left.ends, left.of) if left else (0, 0, "")
        if went_well and project.warp_um > (loom.longest_warp_um or 0):
            loom.longest_warp_um = project.warp_um
        loom.version += 1
        loom.save(update_fields=["left_um", "left_ends", "left_of", "longest_warp_um", "version"])
        words = f"A rest of the warp, {left.ends} ends, stays on {loom.name}." if left else ""
    move(project, Stage.CUT_OFF, by, words)
    return project


def _check(left: Left, loom_id: int | None) -> None:
    if loom_id is None:
        raise Refusal("Say on which loom the rest of the warp is.", field="loom")
    if not 0 < left.um <= MOST_UM:
        raise Refusal("Give how much is left, or leave it empty if nothing is.", field="left")
    if not 0 < left.ends <= MOST_ENDS:
        raise Refusal(f"Give how many ends are left, from 1 to {MOST_ENDS:,}.", field="ends")
    if len(left.of) > MOST_ORDER:
        raise Refusal(f"Say of what it is in at most {MOST_ORDER} characters.", field="of")
