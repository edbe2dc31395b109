"""What lies ahead of every shade over a year, against its floor: the very same queries, and the least code after them.

The floor adds up rows that it trusts: no buffers, nothing of what is held, no checks, no days beyond the day of each
step, and the mean of all weeks for usual use.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from itertools import accumulate

from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from projects.outlook import outlooks
from stash.calc.projection import project
from stash.models import Order, OrderLine, Person, Shade, Supplier
from stash.models.usual_use import forget, used_of

# The studio's cones are weighed from the start of 2024 for a year: looked at from here, all of that is in two years.
AFTER_THE_LEDGER = date(2025, 2, 1)


def ahead() -> int:
    """How many shades run short within a year, by what is known or with usual use; the ledger read anew."""
    forget()
    return ahead_again()


def ahead_again() -> int:
    """The same while nothing is entered: what the ledger says is known."""
    today = timezone.localdate()
    short = 0
    for outlook in outlooks(every(), today=today).values():
        found = project(outlook, today=today)
        short += found.first_below(0) is not None or found.first_below(0, usual=True) is not None
        found.lowest(usual=True)
    return short


def every() -> list[int]:
    return list(Shade.objects.values_list("pk", flat=True))


def floor() -> Callable[[], int]:
    forget()
    with CaptureQueriesContext(connection) as caught:
        outlooks(every(), today=timezone.localdate())
    first, *asked = [query["sql"] for query in caught.captured_queries][1:]

    def least() -> int:
        list(Shade.objects.values_list("pk", flat=True))
        with connection.cursor() as cursor:
            keeps = cursor.execute(first).fetchall()
            rows = [cursor.execute(sql).fetchall() for sql in asked]
        frees, _, _, jobs, arrivals, clearings, _, weeks, _ = rows
        moves: dict[int, list[tuple[object, int]]] = defaultdict(list)
        for shade_id, _, _, on, _, _, um, mg, warp_um, ends, _, piece, _, sample, _, pieces, _ in jobs:
            moves[shade_id].append((str(on), -(ends * warp_um + pieces * piece + sample) * mg // um))
        # A line of an order stands there once for each fibre of its yarn.
        for shade_id, _, on, _, mass_mg in {row[:5] for row in arrivals}:
            moves[shade_id].append((str(on), mass_mg))
        for shade_id, _, on, mass_mg in clearings:
            moves[shade_id].append((str(on), mass_mg))
        used: dict[int, int] = defaultdict(int)
        for shade_id, _, mg in weeks:
            used[shade_id] -= mg
        free = dict(frees)
        short = 0
        for shade_id, _ in keeps:
            opening, use = free.get(shade_id, 0), used.get(shade_id, 0) // 104
            line = accumulate((mg for _, mg in sorted(moves.get(shade_id, ()))), initial=opening)
            short += min(line) - 52 * use < 0
        return short

    return least


def ledger() -> int:
    forget()
    return len(used_of(None, today=AFTER_THE_LEDGER))


@contextmanager
def orders(owner: Person) -> Iterator[None]:
    """One shade in five is on order; afterwards none is, since pages are timed without."""
    today = timezone.localdate()
    with transaction.atomic():
        supplier = Supplier.objects.create(name="Bench yarns, invented", lead_days=21, late_days=4)
        made = [
            Order(
                supplier=supplier,
                ordered_on=today - timedelta(days=at),
                due_on=today + timedelta(days=21 - at),
                late_days=4,
                currency="EUR",
                by=owner,
                made_at=timezone.now(),
            )
            for at in range(20)
        ]
        sent = Order.objects.bulk_create(made)
        OrderLine.objects.bulk_create(
            OrderLine(order=sent[at % 20], shade_id=pk, mass_mg=454_000, number=2)
            for at, pk in enumerate(every()[::5])
        )
        yield
        transaction.set_rollback(True)
