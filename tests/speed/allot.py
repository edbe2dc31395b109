"""Proposed reservations: 200 projects over 1,000 cones and 60 shades, where yarn is short and lots are in the way.

Two studios: one in which nearly every shade is contested, and one with as many projects and cones in which each project
has shades of its own. The first is to be settled in under 30 s on two processors, who is served proven and the stubs
within 1 %; the second costs nothing but what the projects would ask of the shelf anyway. Beside the first stands what
of it the solver alone took: the time during which it was at work for one shade at least.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from random import Random
from threading import Lock
from time import perf_counter, process_time

from stash.calc.allot import Asked, Package, allot, check_allotment
from stash.calc.allot.program import Program
from stash.calc.density import UM_PER_INCH as INCH
from stash.calc.grist import UM_PER_YD as YD
from stash.calc.grist import Grist
from stash.calc.packing import Need

PROJECTS, CONES, SHADES = 200, 1_000, 60
DEADLINE_S = 30.0
GRISTS = [Grist.from_yd_per_lb(Fraction(count)) for count in (2_100, 3_360, 4_200, 6_720)]


def rates() -> Iterator[str]:
    """Lines of what was measured."""
    asked, cones = contested_studio()
    clock = _Clock()
    with clock:
        start, begun = perf_counter(), process_time()
        found = allot(asked, cones, deadline_s=DEADLINE_S)
        took, worked = perf_counter() - start, process_time() - begun
    assert not check_allotment(asked, cones, found), "a proposal that does not hold"
    solved = [report for report in found.reports if report.way == "solver"]
    yield f"{'all contested':26}{took:7.2f} s, of which the solver took {clock.seconds:.2f} s: {_ratio(took, clock)}"
    yield f"{'':26}{worked:7.2f} s of work of all processors"
    yield (
        f"{'':26}{len(found.served)} of {len(found.projects)} served, proven: {found.served_proven}; "
        f"lots proven: {found.lots_proven}; {len(solved)} of {len(found.reports)} shades solved"
    )
    yield (
        f"{'':26}stubs {sum(r.stub_mg for r in solved) / 1000:.1f} g of {sum(c.free_mg for c in cones) / 1e6:.0f} kg, "
        f"of which at most {found.stub_gap:.1%} could still be saved; "
        f"cones opened {sum(r.opened for r in solved)}, at least {sum(r.opened_least for r in solved)}"
    )
    asked, cones = uncontested_studio()
    start = perf_counter()
    easy = allot(asked, cones, deadline_s=DEADLINE_S)
    took = perf_counter() - start
    start = perf_counter()
    shelf: dict[int, list[Package]] = {}
    for cone in cones:
        shelf.setdefault(cone.shade_id, []).append(cone)
    for one in asked:
        one.proposed(cone.less(0) for cone in shelf[one.shade_id])
    alone = perf_counter() - start
    solved = [report for report in easy.reports if report.way == "solver"]
    yield (
        f"{'none contested':26}{took * 1000:7.0f} ms, {len(solved)} shades solved; each project's own proposal alone "
        f"{alone * 1000:.0f} ms: ratio {took / alone:.1f}"
    )


class _Clock:
    """How long some thread was in the solver, from outside it."""

    def __init__(self) -> None:
        self.seconds = 0.0
        self._lock = Lock()
        self._solve: Callable[..., object] = Program.solve
        self._inside = 0
        self._since = 0.0

    def __enter__(self) -> None:
        solve = self._solve

        def timed(*args: object, **options: object) -> object:
            with self._lock:
                self._inside += 1
                if self._inside == 1:
                    self._since = perf_counter()
            try:
                return solve(*args, **options)
            finally:
                with self._lock:
                    self._inside -= 1
                    if not self._inside:
                        self.seconds += perf_counter() - self._since

        Program.solve = timed  # type: ignore[assignment,method-assign]

    def __exit__(self, *_: object) -> None:
        Program.solve = self._solve  # type: ignore[assignment,method-assign]


def _ratio(took: float, clock: _Clock) -> str:
    return f"ratio {took / clock.seconds:.2f}" if clock.seconds else "nothing was solved"


def contested_studio() -> tuple[list[Asked], list[Package]]:
    """Shades of which between 60 and 110 per cent of what is there is asked for, in one to four lots."""
    chance = Random(1939)
    projects = [_project(number, chance) for number in range(PROJECTS)]
    asked = [one for project in projects for one in project]
    wanted = dict.fromkeys(range(SHADES), 0)
    for one in asked:
        wanted[one.shade_id] += int(one.grist.mass_mg_of(one.bare_um))
    cones: list[Package] = []
    for shade_id in range(SHADES):
        number = CONES // SHADES + (shade_id < CONES % SHADES)
        lots = [100 * shade_id + lot for lot in range(chance.randint(1, 4))]
        parts = [chance.choice((1.0, 1.0, 1.0, chance.uniform(0.05, 0.95))) for _ in range(number)]
        mass = wanted[shade_id] / chance.uniform(0.6, 1.1) / sum(parts)
        for part in parts:
            lot = None if chance.random() < 0.03 else chance.choice(lots)
            cones.append(Package(len(cones) + 1, shade_id, lot, int(part * mass)))
    return [_of_a_lot(one, cones, chance) for one in asked], cones


def uncontested_studio() -> tuple[list[Asked], list[Package]]:
    """Each project has a shade of its own, of five cones with half as much again as it needs."""
    chance = Random(1786)
    asked, cones = [], []
    for number in range(PROJECTS):
        one = replace(_project(number, chance)[0], shade_id=number)
        each = max(1, int(one.grist.mass_mg_of(one.bare_um)) * 3 // 10)
        cones += [Package(5 * number + at + 1, number, number, each) for at in range(CONES // PROJECTS)]
        asked.append(one)
    return asked, cones


def _project(number: int, chance: Random) -> list[Asked]:
    """Of one to five shades; a third of them for a weft alone, or a few ends as an accent."""
    day = date(2027, 1, 4) + timedelta(7 * chance.randrange(40))
    rank, pieces, warp = chance.randint(1, 9), chance.randint(1, 12), chance.randint(80, 400) * INCH
    asked = []
    for at, shade_id in enumerate(sorted(chance.sample(range(SHADES), chance.randint(1, 5)))):
        ends = chance.choice((0, chance.randint(2, 20), chance.randint(40, 240), chance.randint(40, 240)))
        piece = chance.choice((0, chance.randint(20, 150))) if ends else chance.randint(50, 300)
        need = Need(
            "ABCDE"[at],
            ends,
            ends + -(-ends // 20),
            piece * YD,
            piece * YD * 108 // 100,
            piece * YD // 8,
            piece * YD // 8,
        )
        asked.append(
            Asked(
                number,
                shade_id,
                need,
                warp,
                pieces,
                chance.choice((0, 0, 0, 1)),
                GRISTS[shade_id % len(GRISTS)],
                day,
                rank,
                at_once=chance.choice((1, 2)),
            )
        )
    return asked


def _of_a_lot(one: Asked, cones: list[Package], chance: Random) -> Asked:
    """One in ten wishes for one lot, one in twenty for a certain one."""
    wish = chance.random()
    lots = sorted({cone.lot for cone in cones if cone.shade_id == one.shade_id and cone.lot is not None})
    if wish < 0.1:
        return replace(one, need=replace(one.need, wish="same"))
    if wish < 0.15 and lots:
        return replace(one, need=replace(one.need, wish="lot", wish_lot_id=chance.choice(lots)))
    return one


if __name__ == "__main__":
    for line in rates():
        print(line, flush=True)
