"""Questions to the solver about one shade."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from stash.calc.allot.asked import Asked, Package
from stash.calc.allot.run import Run
from stash.calc.allot.taken import Taken


def serve_all(
    together: Sequence[Asked], packages: Sequence[Package], run: Run
) -> Taken | Literal["no", "unknown"]:
    """A way to serve all of these, barely; "no" where it is proven that there is none."""
    return "unknown" if run.over else "no"
