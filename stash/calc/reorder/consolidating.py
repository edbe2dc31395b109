"""Of whom each shade is bought, so that all orders together cost least: goods, carriage, and what a minimum asks for.

What comes in time goes before what is cheap, and what is known to be so before what is not; that is decided for each
shade alone. Among the rest every set of up to eight suppliers is tried, each shade at its cheapest there, and from
each the shades are moved one by one while that makes all of it cheaper. Without minimums and without carriage that
falls away it is the very cheapest; with them it need not be, and is never dearer than each shade at its own cheapest.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from stash.calc.reorder.put_ups import Counted
from stash.calc.reorder.terms import Terms

NO_TERMS = Terms()
MOST_SUPPLIERS = 8


def consolidate(
    choices: Mapping[int, Sequence[Counted]],
    terms: Mapping[int, Terms],
    begun: Mapping[int, int] | None = None,
) -> dict[int, Counted]:
    """By shade, one of its choices, which come equally in time and are paid in one currency. `terms` by supplier;
    `begun` is what stands in orders being written already, in cents by supplier: carriage is paid for it anyway.
    """
    already = begun or {}
    asked = {key: sorted(found, key=_by_cost) for key, found in choices.items() if found}
    best = {key: found[0] for key, found in asked.items()}
    movable = [key for key, found in asked.items() if len(found) > 1]
    if not movable:
        return best
    least = all_cost(best, terms, already)
    for start in _starts(asked):
        found, cost = _moved(start, asked, movable, terms, already)
        if cost < least:
            best, least = found, cost
    return best


def _starts(asked: Mapping[int, Sequence[Counted]]) -> Iterator[dict[int, Counted]]:
    """Each shade at its cheapest among some suppliers, for every set of them that sells all shades."""
    suppliers = sorted({one.offered.supplier_id for found in asked.values() for one in found})
    yield {key: found[0] for key, found in asked.items()}
    if len(suppliers) > MOST_SUPPLIERS:
        return
    for size in range(1, len(suppliers)):
        for some in combinations(suppliers, size):
            start = {
                key: one
                for key, found in asked.items()
                if (one := next((one for one in found if one.offered.supplier_id in some), None))
            }
            if len(start) == len(asked):
                yield start


def _moved(
    start: dict[int, Counted],
    asked: Mapping[int, Sequence[Counted]],
    movable: Sequence[int],
    terms: Mapping[int, Terms],
    begun: Mapping[int, int],
) -> tuple[dict[int, Counted], tuple[int, int]]:
    """One shade moved to another choice, again and again while that is cheaper."""
    chosen, cost = start, all_cost(start, terms, begun)
    better = True
    while better:
        better = False
        for key in movable:
            for other in asked[key]:
                tried = {**chosen, key: other}
                costs = all_cost(tried, terms, begun)
                if costs < cost:
                    chosen, cost, better = tried, costs, True
    return chosen, cost


def all_cost(
    chosen: Mapping[int, Counted], terms: Mapping[int, Terms], begun: Mapping[int, int]
) -> tuple[int, int]:
    """How many prices are not known, which comes first, and what is paid for all: what is missing to a minimum is
    counted as paid.
    """
    values: dict[int, int] = defaultdict(int)
    unknown = 0
    for one in chosen.values():
        values[one.offered.supplier_id] += one.cost_cents or 0
        unknown += one.cost_cents is None
    cost = 0
    for supplier_id, value in values.items():
        of_them, had = terms.get(supplier_id, NO_TERMS), begun.get(supplier_id, 0)
        whole = value + had
        cost += value + of_them.carriage_of(whole) + of_them.under_minimum(whole)
        if supplier_id in begun:
            cost -= of_them.carriage_of(had) + of_them.under_minimum(had)
    return unknown, cost


def _by_cost(one: Counted) -> tuple[bool, int, int, int]:
    return one.cost_cents is None, one.cost_cents or 0, one.mass_mg, one.offered.id
