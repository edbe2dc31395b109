"""Small invented studios by chance: several projects and shades, with wishes, buffers, knots, and yarn held already."""

from stash.calc.packing import Line
from tests.calc.allot.shelves import asks, package
from tests.calc.plans import YD


def studio(chance, *, projects=5, shades=2, cones=4, most=70, held=True):
    """Asked and packages. What is held by all together is on the cones."""
    packages = [
        package(
            10 * shade + number,
            chance.randint(0, most),
            chance.choice((10 * shade, 10 * shade, 10 * shade + 1, None)),
            shade,
        )
        for shade in range(shades)
        for number in range(cones)
    ]
    free = {one.id: one.free_mg for one in packages}
    asked = []
    for project in range(projects):
        fixed = held and chance.random() < 0.15
        for shade in range(shades):
            if chance.random() < 0.25:
                continue
            of_shade = [one for one in packages if one.shade_id == shade]
            lots = [one.lot for one in of_shade if one.lot is not None]
            wish = chance.choice(("any", "any", "any", "any", "same", "lot", "cone"))
            wish = "any" if wish == "lot" and not lots else wish
            warp = chance.choice((6, 7, 10))
            has = ()
            if held and chance.random() < 0.5:
                cone = chance.choice(of_shade).id
                ends = min(chance.randint(1, 3), free[cone] // (warp * 1000))
                if ends:
                    free[cone] -= ends * warp * 1000
                    has = (Line(cone, "warp", ends, ends * warp * YD, ends * warp * 1000),)
            asked.append(
                asks(
                    project,
                    chance.randint(0, 6),
                    warp=warp,
                    spare=chance.randint(0, 1),
                    piece=chance.randint(0, 12),
                    buffer=chance.randint(0, 2),
                    pieces=chance.randint(1, 3),
                    sample=chance.choice((0, 0, 3)),
                    wish=wish,
                    lot=chance.choice(lots) if wish == "lot" else None,
                    cone=chance.choice(of_shade).id if wish == "cone" else None,
                    day=project // 2,
                    rank=9 - project,
                    shade=shade,
                    key="ABC"[shade],
                    keep_back=chance.choice((0, 0, 0, 1)),
                    at_once=chance.choice((1, 1, 2)),
                    held=has,
                    fixed=fixed,
                )
            )
    return asked, packages
