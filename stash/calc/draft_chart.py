"""A draft as it is drawn on point paper: threading, tie-up, treadling, and the crossings that come of them.

Ends stand from the left and picks from below, as the weaver sees the cloth grow; so the threading lies under the cloth
and the treadling to its right (common practice; drafts are drawn from other corners too).
"""

from __future__ import annotations

from dataclasses import dataclass

from stash.calc.draft import Draft, Interlacing, read_line

MOST_CELLS = 64
"""Ends and picks drawn of a longer repeat."""


@dataclass(frozen=True, slots=True)
class Chart:
    """One repeat, or the first MOST_CELLS ends and picks of a longer one. Shafts and treadles count from 1."""

    threading: tuple[int, ...]
    shafts: int
    treadles: tuple[frozenset[int], ...]
    """The shafts that each treadle lifts; empty where shafts are lifted without treadles."""
    treadling: tuple[frozenset[int], ...]
    """The treadles pressed on every pick, or the shafts lifted where there are none."""
    up: tuple[tuple[bool, ...], ...]
    """`up[pick][end]`: the warp lies on top."""
    cut: bool
    """More ends or picks belong to the repeat than are drawn."""


def chart_of(weave: Interlacing) -> Chart:
    """A lift plan stays one; a common structure has a treadle for each shed, as they first come."""
    threading = tuple(weave.threading[:MOST_CELLS])
    lifts = weave.lifts[:MOST_CELLS]
    treadles: tuple[frozenset[int], ...]
    treadling: tuple[frozenset[int], ...]
    if isinstance(weave, Draft) and weave.written[3]:
        treadles, treadling = (), tuple(lifts)
    elif isinstance(weave, Draft) and weave.written[1]:
        treadles = tuple(frozenset(step) for step in read_line(weave.written[1], "tie_up").steps())
        trodden = read_line(weave.written[2], "treadling").steps()
        treadling = tuple(frozenset(step) for step in trodden[:MOST_CELLS])
    else:
        treadles = tuple(dict.fromkeys(weave.lifts))
        treadling = tuple(frozenset({treadles.index(lift) + 1}) for lift in lifts)
    return Chart(
        threading=threading,
        shafts=max(weave.threading),
        treadles=treadles,
        treadling=treadling,
        up=tuple(tuple(shaft in lift for shaft in threading) for lift in lifts),
        cut=max(len(weave.threading), len(weave.lifts)) > MOST_CELLS,
    )
