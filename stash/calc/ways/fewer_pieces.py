"""Fewer pieces: as many as the free stock serves."""

from __future__ import annotations

from dataclasses import dataclass, replace

from stash.calc.most import Most, most_pieces
from stash.calc.verdict import Verdict
from stash.calc.ways.search import greatest
from stash.calc.ways.tried import Tried, Way, try_plan


@dataclass(frozen=True, slots=True)
class FewerPieces(Way):
    most: Most | None
    """How far the bare need goes and what stops the next piece; None where the buffer decided the number."""


def fewer_pieces(before: Tried) -> list[FewerPieces]:
    """The most pieces without anything short; and the most with the whole buffer, where that is another number."""
    plan = before.plan
    found: list[FewerPieces] = []

    def tried(pieces: int) -> Tried:
        return try_plan(replace(plan, pieces=pieces), before.stock, before.usable_um)

    least = plan.pieces
    if before.state == Verdict.SHORT:
        most = most_pieces(plan, before.stock)
        if not 0 < most.pieces < plan.pieces:
            return []
        least = most.pieces
        way = FewerPieces(before, tried(least), most)
        found.append(way)
        if way.after.state == Verdict.ENOUGH:
            return found
    whole = greatest(lambda pieces: tried(pieces).state == Verdict.ENOUGH, least - 1)
    if whole:
        found.append(FewerPieces(before, tried(whole), None))
    return found
