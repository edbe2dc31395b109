"""How many whole ends of a length the shelf gives: a cone serves so many as it holds whole, and no part of one.

What is left on each cone is no end: the sum of floors counts, not the floor of the sum. Reading only; nothing is
reserved here.
"""

from collections import defaultdict

from stash.models import Cone, Yarn
from stash.models.yarn import ShadeQuerySet
from stash.services.weighing import MOST_OF_A_CONE_MG


def ends_on(free_mg: int, grist_um: int, grist_mg: int, end_um: int) -> int:
    """Whole ends of `end_um` on one cone, exactly."""
    return free_mg * grist_um // (grist_mg * end_um)


def least_for_an_end(end_um: int) -> dict[int, list[int]]:
    """The mg that one end weighs, rounded up, with the keys of the yarns of which it weighs so much.

    Yarns of which no cone can hold an end are left out.
    """
    least: dict[int, list[int]] = defaultdict(list)
    for pk, grist_um, grist_mg in Yarn.objects.values_list("pk", "grist_um", "grist_mg"):
        mg = -(-end_um * grist_mg // grist_um)
        if mg <= MOST_OF_A_CONE_MG:
            least[mg].append(pk)
    return dict(least)


def ends_by_lot(shades: ShadeQuerySet, end_um: int) -> dict[int, list[tuple[int, str]]]:
    """Of each shade that gives one at all: the whole ends of every lot with the lot's name, the most first.

    A cone of unknown lot matches no other and stands for itself, with "" as its lot.
    """
    cones = (
        Cone.objects.giving(least_for_an_end(end_um))
        .filter(shade__in=shades.order_by().values("pk"))
        .order_by()
        .values_list(
            "pk",
            "shade_id",
            "lot__name",
            "on_hand_mg",
            "reserved_mg",
            "shade__yarn__grist_um",
            "shade__yarn__grist_mg",
        )
    )
    found: dict[int, dict[tuple[str, int], int]] = defaultdict(lambda: defaultdict(int))
    for pk, shade, lot, on_hand, reserved, grist_um, grist_mg in cones:
        alone = 0 if lot else pk
        found[shade][lot or "", alone] += ends_on(on_hand - reserved, grist_um, grist_mg, end_um)
    return {
        shade: sorted(((ends, lot) for (lot, _), ends in lots.items()), key=lambda one: (-one[0], one[1]))
        for shade, lots in found.items()
    }
