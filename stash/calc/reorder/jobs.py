"""Jobs ahead, served one after the other by need date and rank from what will be there: cone by cone, in whole ends.

Each job takes what the packing of `stash.calc.packing` would reserve, of what is free then and what its own claim
holds. A job whose claim holds its whole need keeps that and takes nothing. Between the jobs usual use goes on: it is
taken from the smallest packages first, as classes take odd ones. What is in quarantine or on order is offered to jobs
on or after the day on which it is here. New put-ups are offered to every job: whether they come in time is another
question.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need
from stash.calc.reorder.put_ups import MOST_NUMBER
from stash.calc.verdict import ShadeVerdict, Verdict, judge

_NEW = -1
"""Put-ups that stand nowhere yet count from here downwards, and so does their lot."""


@dataclass(frozen=True, slots=True)
class Wanting:
    """One job with what it needs of the shade, and what its claim holds of which cones."""

    id: int
    name: str
    on: date | None
    need: Need
    warp_um: int
    pieces: int
    keep_back: int
    grist: Grist
    held: Mapping[int, int] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class Package:
    """One that stands on the shelf or will: `from_day` None for now. Its `free_mg` is held by no claim."""

    id: int
    lot: int | None
    free_mg: int
    from_day: date | None = None


@dataclass(frozen=True, slots=True)
class Served:
    """One job when its turn comes. `verdict` None: its claim holds all it needs."""

    job: Wanting
    verdict: ShadeVerdict | None

    @property
    def state(self) -> Verdict:
        return Verdict.ENOUGH if self.verdict is None else self.verdict.state

    @property
    def mixed(self) -> bool:
        return self.verdict is not None and self.verdict.lots_mixed


@dataclass(frozen=True, slots=True)
class New:
    """So many put-ups of one lot that is not here yet; or with `lot`, of one that is."""

    number: int
    mass_mg: int
    lot: int | None = None


def serve(
    jobs: Sequence[Wanting],
    packages: Sequence[Package],
    *,
    today: date,
    week_mg: int = 0,
    new: New | None = None,
) -> list[Served]:
    """`jobs` stand in the order in which they are served, those without a day last."""
    stock = {one.id: one for one in packages}
    free = {one.id: one.free_mg for one in packages}
    lots = {one.id: one.lot for one in packages}
    if new:
        for at in range(new.number):
            free[_NEW - at] = new.mass_mg
            lots[_NEW - at] = _NEW if new.lot is None else new.lot
    used_mg = 0
    found = []
    for job in jobs:
        day = max(job.on, today) if job.on else None
        if day:
            gone_mg = week_mg * (day - today).days // 7
            _use(gone_mg - used_mg, free, stock, day)
            used_mg = gone_mg
        if job.held and _judge(job, _held_alone(job, lots, stock, day)).state == Verdict.ENOUGH:
            found.append(Served(job, None))
            continue
        verdict = _judge(
            job,
            [
                ConeStock(pk, lots[pk], free[pk] + job.held.get(pk, 0))
                for pk in free
                if pk not in stock or _here(stock[pk], day)
            ],
        )
        _take(job, verdict, free)
        found.append(Served(job, verdict))
    return found


def _here(package: Package, day: date | None) -> bool:
    return package.from_day is None or day is None or package.from_day <= day


def _held_alone(
    job: Wanting, lots: Mapping[int, int | None], stock: Mapping[int, Package], day: date | None
) -> list[ConeStock]:
    return [
        ConeStock(pk, lots[pk], mass_mg)
        for pk, mass_mg in sorted(job.held.items())
        if pk in stock and _here(stock[pk], day)
    ]


def _judge(job: Wanting, cones: Sequence[ConeStock]) -> ShadeVerdict:
    return judge(job.need, job.warp_um, job.pieces, job.keep_back, job.grist, cones)


def _take(job: Wanting, verdict: ShadeVerdict, free: dict[int, int]) -> None:
    """What it takes is gone; what its claim held beyond that is free again."""
    for pk, mass_mg in job.held.items():
        if pk in free:
            free[pk] += mass_mg
    for line in verdict.proposal.lines:
        free[line.cone_id] = max(0, free[line.cone_id] - line.mass_mg)


def _use(mass_mg: int, free: dict[int, int], stock: Mapping[int, Package], day: date) -> None:
    """From the smallest on the shelf, and from new put-ups last."""
    order = sorted(
        (pk for pk in free if pk not in stock or _here(stock[pk], day)),
        key=lambda pk: (pk not in stock, free[pk], pk),
    )
    for pk in order:
        if mass_mg <= 0:
            return
        taken = min(mass_mg, free[pk])
        free[pk] -= taken
        mass_mg -= taken


@dataclass(frozen=True, slots=True)
class Enough:
    """So many new put-ups let every job have its buffered need, the warp of one lot."""

    number: int
    matched: int | None
    """So many would do if they can be had of `matched_lot`; None where that spares nothing."""
    matched_lot: int | None


def wanting(served: Sequence[Served]) -> list[Served]:
    """Those that lack something, be it the buffer, and that a put-up could help: not those that want one very cone."""
    return [one for one in served if one.state != Verdict.ENOUGH and one.job.need.wish != "cone"]


def enough_for(
    jobs: Sequence[Wanting],
    packages: Sequence[Package],
    mass_mg: int,
    *,
    today: date,
    week_mg: int = 0,
    without: Sequence[Served] | None = None,
) -> Enough | None:
    """The fewest put-ups of that net mass after which no job that lacks something lacks it any more. None where nothing
    is lacking, or no number helps. `without` is how the jobs are served without any, if that is known.

    New put-ups are of one lot: of several lots that are wished for, the first is bought, and who wishes for another
    still lacks it.
    """
    base = without if without is not None else serve(jobs, packages, today=today, week_mg=week_mg)
    asked_lot = next((one.job.need.wish_lot_id for one in wanting(base) if one.job.need.wish == "lot"), None)
    helped = [
        one for one in wanting(base) if one.job.need.wish != "lot" or one.job.need.wish_lot_id == asked_lot
    ]
    lacking = {one.job.id for one in helped}
    if not lacking:
        return None

    def serves(number: int, lot: int | None) -> bool:
        found = serve(jobs, packages, today=today, week_mg=week_mg, new=New(number, mass_mg, lot))
        return all(one.state == Verdict.ENOUGH and not one.mixed for one in found if one.job.id in lacking)

    short_mg = sum(one.verdict.short_mass_mg for one in helped if one.verdict)
    number = _least_near(lambda number: serves(number, asked_lot), short_mg // mass_mg + 1, MOST_NUMBER)
    if number is None:
        return None
    if asked_lot is not None:
        return Enough(number, number, asked_lot)
    lot = _main_lot(base, lacking)
    matched = None
    if lot is not None and number > 1 and serves(number - 1, lot):
        matched = _least_near(lambda number: serves(number, lot), number - 1, number - 1)
    return Enough(number, matched, lot if matched is not None else None)


def _least_near(holds: Callable[[int], bool], guess: int, most: int) -> int | None:
    """As `least`, begun at a guess: serving all jobs for every number tried is what costs."""
    guess = min(max(1, guess), most)
    if not holds(guess):
        above, step = guess, 1
        while True:
            if above >= most:
                return None
            low, above = above, min(most, above + step)
            if holds(above):
                break
            step *= 2
    else:
        above, low, step = guess, 0, 1
        while above > 1:
            below = max(1, above - step)
            if not holds(below):
                low = below
                break
            above, step = below, step * 2
    while above - low > 1:
        middle = (low + above) // 2
        if holds(middle):
            above = middle
        else:
            low = middle
    return above


def _main_lot(base: Sequence[Served], lacking: set[int]) -> int | None:
    """The lot that the first of them would take its warp from."""
    for one in base:
        if one.job.id in lacking and one.verdict:
            for lot in one.verdict.proposal.warp_lots:
                if lot is not None and lot >= 0:
                    return lot
    return None
