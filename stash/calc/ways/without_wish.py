"""Without a wish for lots: what becomes possible if a shade may come from any lot."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from stash.calc.needs import with_wishes
from stash.calc.ways.tried import Tried, Way, try_worked


@dataclass(frozen=True, slots=True)
class WithoutWish(Way):
    """These shades come from any lot, rather one."""

    keys: tuple[str, ...]


def without_wish(before: Tried) -> WithoutWish | None:
    """Lets go the wishes that stand in the way, and no other. None where none does."""
    wishing = [wish.key for wish in before.plan.wishes if wish.wish != "any"]
    if not wishing:
        return None
    free = _without(before, wishing)
    keys = tuple(
        key
        for key in wishing
        if key in before.verdicts
        and (free.verdicts[key].state, -free.verdicts[key].short_mass_mg)
        > (before.verdicts[key].state, -before.verdicts[key].short_mass_mg)
    )
    return WithoutWish(before, _without(before, keys), keys) if keys else None


def _without(before: Tried, keys: Collection[str]) -> Tried:
    wishes = tuple(wish for wish in before.plan.wishes if wish.key not in keys)
    return try_worked(with_wishes(before.worked, wishes), before.stock, before.usable_um)
