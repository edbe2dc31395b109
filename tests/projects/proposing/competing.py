"""Two projects that compete, small enough to be reckoned in the head; all invented.

A yard of the yarn weighs a gram. The runner needs 10 ends of 5 yd of Spruce, 50 yd, from one lot, with the buffer 55;
lot 1 holds just that, on one cone. The mats need as much, and are as well served by the cones of lot 2, 30 g each,
of 6 ends each. Reserving by itself, the mats, which come first, take lot 1.
"""

from dataclasses import dataclass
from datetime import date

from projects.models import Project
from projects.proposing.gathering import Part, gather
from projects.proposing.proposal import Proof, Proposal
from projects.services.reserving import reserve_project
from stash.models import Cone, Reservation, Shade
from tests.factories import make_cone, make_shade
from tests.projects.factories import YARD
from tests.projects.shortages import mats, yard_yarn

EXACT = Proof(
    fallback="",
    stopped=False,
    packed=0,
    served_proven=True,
    lots_proven=True,
    gap_ppm=0,
    contested=1,
    seconds=0.1,
)


@dataclass
class Competing:
    spruce: Shade
    rust: Shade
    mats: Project
    runner: Project
    big: Cone
    small: list[Cone]
    weft: Cone

    def held(self, project: Project) -> dict[str, int]:
        """g of Spruce by the codes of its cones."""
        project.refresh_from_db()
        lines = Reservation.objects.filter(claim=project.claim_id, cone__shade=self.spruce)
        return {
            line.cone.code: line.mass_mg // 1_000
            for line in lines.select_related("cone").order_by("cone__code")
        }


def compete(by, *, reserved: bool = True, names: tuple[str, str] = ("Mats", "Runner")) -> Competing:
    """The mats hold lot 1; the runner wishes for one lot and finds none."""
    yarn = yard_yarn()
    spruce, rust = make_shade("Spruce", yarn), make_shade("Rust", yarn)
    big = make_cone(spruce, grams=55, lot="1", code="K-1", by=by)
    small = [make_cone(spruce, grams=30, lot="2", code=f"K-2{number}", by=by) for number in "ab"]
    weft = make_cone(rust, grams=500, lot="9", code="K-9", by=by)
    shades = {"A": spruce, "B": rust}
    first = mats(shades, name=names[0], need_on=date(2031, 3, 1))
    runner = mats(shades, name=names[1], need_on=date(2031, 4, 1))
    row = runner.shades.get(key="A")
    row.wish, row.wish_lot_id = "lot", big.lot_id
    row.save()
    if reserved:
        # As the mats would by themselves: of the lots that serve them, not the one with two cones.
        reserve_project(pk=first.pk)
        first.refresh_from_db()
    return Competing(spruce, rust, first, runner, big, small, weft)


def served_both(case: Competing) -> Proposal:
    """Lot 1 to the runner, lot 2 to the mats; the weft as it comes."""
    gathered = gather()
    ends = lambda cone, number: Part(cone.pk, "warp", number, number * 5 * YARD, number * 5_000)  # noqa: E731
    weft = Part(case.weft.pk, "weft", 0, 50 * YARD, 50_000)
    given = {
        case.mats.pk: tuple(sorted((ends(case.small[0], 6), ends(case.small[1], 5), weft))),
        case.runner.pk: tuple(sorted((ends(case.big, 11), weft))),
    }
    return Proposal(gathered, given, EXACT)
