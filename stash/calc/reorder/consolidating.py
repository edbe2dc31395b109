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
    """One shade moved to another choice, again and again while that is cheaper. Only two suppliers change by a move."""
    chosen = dict(start)
    values, count = _values(chosen)

    def paid(supplier_id: int, value: int, shades: int) -> int:
        return _paid(value, terms.get(supplier_id, NO_TERMS), begun.get(supplier_id)) if shades else 0

    better = True
    while better:
        better = False
        for key in movable:
            for other in asked[key]:
                here = chosen[key]
                of, to = here.offered.supplier_id, other.offered.supplier_id
                was, will = here.cost_cents, other.cost_cents
                if of == to:
                    saved = (will or 0) - (was or 0)
                else:
                    before = paid(of, values[of], count[of]) + paid(to, values[to], count[to])
                    after = paid(of, values[of] - (was or 0), count[of] - 1)
                    after += paid(to, values[to] + (will or 0), count[to] + 1)
                    saved = after - before
                if (int(will is None) - int(was is None), saved) < (0, 0):
                    values[of] -= was or 0
                    values[to] += will or 0
                    count[of] -= 1
                    count[to] += 1
                    chosen[key], better = other, True
    return chosen, all_cost(chosen, terms, begun)


def _values(chosen: Mapping[int, Counted]) -> tuple[dict[int, int], dict[int, int]]:
    """What is bought of each supplier, in cents, and how many shades."""
    values: dict[int, int] = defaultdict(int)
    count: dict[int, int] = defaultdict(int)
    for one in chosen.values():
        values[one.offered.supplier_id] += one.cost_cents or 0
        count[one.offered.supplier_id] += 1
    return values, count


def _paid(value: int, terms: Terms, begun: int | None) -> int:
    """For goods, carriage and what is missing to a minimum, beyond what an order that is begun pays anyway."""
    had = begun or 0
    whole = value + had
    cost = value + terms.carriage_of(whole) + terms.under_minimum(whole)
    return cost if begun is None else cost - terms.carriage_of(had) - terms.under_minimum(had)


def all_cost(
    chosen: Mapping[int, Counted], terms: Mapping[int, Terms], begun: Mapping[int, int]
) -> tuple[int, int]:
    """How many prices are not known, which comes first, and what is paid for all: what is missing to a minimum is
    counted as paid.
    """
    values, _ = _values(chosen)
    unknown = sum(one.cost_cents is None for one in chosen.values())
    return unknown, sum(_paid(value, terms.get(pk, NO_TERMS), begun.get(pk)) for pk, value in values.items())


def _by_cost(one: Counted) -> tuple[bool, int, int, int]:
    return one.cost_cents is None, one.cost_cents or 0, one.mass_mg, one.offered.id
