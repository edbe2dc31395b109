"""Whether some can all be served of one shade, asked of the solver."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from stash.calc.allot.asked import Asked, Package
from stash.calc.allot.exact import made_exact
from stash.calc.allot.model import Model
from stash.calc.allot.run import Run
from stash.calc.allot.taken import Taken


def serve_all(
    together: Sequence[Asked], packages: Sequence[Package], run: Run
) -> Taken | Literal["no", "unknown"]:
    """A way to serve all of these, barely; "no" where it is proven that there is none.

    A solution that holds by the solver's tolerance alone is sought anew with a mg less of each cone for each who asks,
    which is all that rounding can cost. If there is none then, that is "unknown": the last mg was not settled.
    """
    if run.over:
        run.cut_short = True
        return "unknown"
    model = Model(together, packages)
    if model.impossible:
        return "no"
    for margin_mg in (0, 1):
        model.leave(margin_mg)
        answer = model.program.solve({}, seconds=run.question_s, over=lambda: run.over)
        if answer.state == "none":
            return "unknown" if margin_mg else "no"
        if answer.state == "open":
            run.cut_short = True
            return "unknown"
        taken = made_exact(model, answer.values)
        if taken is not None:
            return taken
    return "unknown"
