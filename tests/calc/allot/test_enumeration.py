"""Against every way there is, on thousands of small shelves. All figures invented."""

from random import Random

import pytest

from stash.calc.allot.case import cases_of
from stash.calc.allot.lots import counted
from stash.calc.allot.run import Run
from stash.calc.allot.serving import serve
from stash.calc.allot.staged import Staged
from tests.calc.allot.enumeration import best
from tests.calc.allot.shelves import asks, package

pytestmark = pytest.mark.once


def small(chance):
    """Up to four projects, three cones a shade, and seldom a second shade."""
    shades = 1 + (chance.random() < 0.2)
    packages = [
        package(
            10 * shade + number,
            chance.randint(1, 9),
            chance.choice((10 * shade, 10 * shade + 1, None)),
            shade,
        )
        for shade in range(shades)
        for number in range(chance.randint(1, 3))
    ]
    asked = []
    for project in range(chance.randint(2, 4)):
        for shade in range(shades):
            cones = [one for one in packages if one.shade_id == shade]
            wish, lot, cone = chance.choice(("any", "any", "any", "same", "lot", "cone")), None, None
            lots = [one.lot for one in cones if one.lot is not None]
            if wish == "lot":
                wish, lot = ("lot", chance.choice(lots)) if lots else ("any", None)
            if wish == "cone":
                cone = chance.choice(cones).id
            asked.append(
                asks(
                    project,
                    chance.randint(0, 3),
                    warp=chance.randint(1, 3),
                    piece=chance.randint(0, 3),
                    pieces=chance.randint(1, 2),
                    sample=chance.choice((0, 0, 1)),
                    wish=wish,
                    lot=lot,
                    cone=cone,
                    day=project // 2,
                    rank=9 - project,
                    shade=shade,
                    key="AB"[shade],
                )
            )
    return asked, packages


@pytest.mark.parametrize("seed", range(4))
def test_the_same_are_served_with_as_few_lots_as_in_the_best_of_all_ways(seed):
    chance = Random(seed)
    for _ in range(400):
        asked, packages = small(chance)
        run = Run(30, None)
        projects, cases = cases_of(asked, packages)
        found = serve(projects, cases, run)
        served, fewest = best(projects, packages)
        assert [asked[0].project_id for asked in projects if not found[asked[0].project_id].lacking] == served
        assert all(one.proven for one in found.values())
        for shade, case in cases.items():
            if case.served:
                staged = Staged(case, run)
                staged.lots_and_buffers(10)
                assert staged.lots_proven
                assert counted(case.served, case.packages, staged.taken.lines) == fewest[shade]
