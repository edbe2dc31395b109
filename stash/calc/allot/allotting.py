"""Allotting over all shades: who is served, then each shade by itself.

The order in which the rules bind:

1. Projects are served by need day, then rank. One is served if its bare needs can be met, all its shades at once,
   together with those of every project served before it; otherwise it gets nothing new and stands in nobody's way.
   Who is served is therefore the best there is by this order, and more yarn never serves an earlier project less.
   This goes before the lots: a warp may be mixed from several lots so that a later project is served too. Who will not
   have that wishes for one lot.
2. Lots, over the bare needs of those served: the fewest warps of several lots, then the fewest lots of warp, of weft,
   and of both together.
3. Whoever is not served keeps of what he holds each line that neither takes from the served nor costs them a lot.
4. The needs with their buffers, in the order of 1, each where it takes from nobody and mixes no lots.
5. The fewest ends for which a package has to be wound over, then the least stubs (`stash.calc.allot.rests` says what
   that is), the fewest cones opened, the smallest lots and cones of those that will do, so that odd ones go to whoever
   has no wish, and the fewest who take of one cone. This may end before it is the best; reports say how far it is.

Where what every project would reserve alone fits together, that is what each gets and nothing is solved.
Yarn that is held by a project already begun is set aside first and never moves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from stash.calc.allot.allotment import Allotment, Lacking, Progress
from stash.calc.allot.asked import Asked, Package
from stash.calc.allot.assembling import assembled
from stash.calc.allot.case import cases_of
from stash.calc.allot.check import check_allotment
from stash.calc.allot.run import Run
from stash.calc.allot.serving import Serving, serve
from stash.calc.allot.sharing import packed, share

UNSOLVED = "What the solver found did not bear a second look."
NOTHING_NEW = (
    "Neither what the solver found nor our own packing bore a second look: nothing new is given to anybody, and each "
    "keeps what he holds as far as it is there."
)


def allot(
    demands: Sequence[Asked],
    cones: Sequence[Package],
    *,
    deadline_s: float,
    told: Callable[[Progress], None] | None = None,
) -> Allotment:
    """Share out the cones among all who ask. The same input in any order gives the same answer, if time allows.

    Ends about `deadline_s` seconds after it was called at the latest, with what it has by then; `told` hears how far
    it is, always from the thread that called, and may raise Stop to end it sooner. Other threads run meanwhile.
    Raises CalcError if two of the asked have one key, or a project asks with two days or ranks.
    """
    run = Run(deadline_s, told)
    found = _found(demands, cones, run)
    if check_allotment(demands, cones, found):
        run.fallback = UNSOLVED
        found = _found(demands, cones, run)
        if check_allotment(demands, cones, found):
            run.fallback = NOTHING_NEW
            found = _as_held(demands, cones, run)
    return found


def _found(demands: Sequence[Asked], cones: Sequence[Package], run: Run) -> Allotment:
    projects, cases = cases_of(demands, cones)
    served = serve(projects, cases, run)
    shared = share(cases, run)
    return assembled(projects, cases, served, shared, run)


def _as_held(demands: Sequence[Asked], cones: Sequence[Package], run: Run) -> Allotment:
    projects, cases = cases_of(demands, cones)
    served = {
        asked[0].project_id: Serving(
            tuple(Lacking(one.shade_id, one.need.key, "time") for one in asked), proven=False
        )
        for asked in projects
        if not asked[0].fixed
    }
    return assembled(projects, cases, served, {pk: packed(case) for pk, case in cases.items()}, run)
