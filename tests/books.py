"""The law of the books, for tests to hold after every call of a service."""

from collections.abc import Callable
from typing import Any, TypeVar

from django.db.models import Sum

from stash.models import Cone, guards
from stash.services.books import check_books

Result = TypeVar("Result")


def assert_books_agree() -> None:
    """Balance = sum of changes = last entry, reserved = sum of reservations, and the book check agrees.

    Reckoned here once more and in another way than the check does, so that neither covers for the other.
    The guards are the business of their own tests: the suite runs without them.
    """
    for cone in Cone.objects.order_by("pk"):
        entries = list(cone.entries.order_by("pk"))
        running = 0
        for entry in entries:
            running += entry.change_mg
            assert entry.after_mg == running, f"{cone}: {entry} leaves {running}, not {entry.after_mg}"
            if entry.gross_mg is not None:
                assert entry.gross_mg == entry.core_mg + entry.after_mg, f"{cone}: gross is not core and net"
        assert entries, f"{cone} has no entry"
        assert cone.on_hand_mg == running == entries[-1].after_mg, f"{cone} shows {cone.on_hand_mg}"
        held = cone.reservations.aggregate(sum=Sum("mass_mg"))["sum"] or 0
        assert cone.reserved_mg == held, f"{cone} shows {cone.reserved_mg} reserved, held are {held}"
    absent = {
        f"The guard {name} of the ledger is missing. Run migrate to make it anew." for name in guards.NAMES
    }
    assert [fault.words for fault in check_books() if fault.words not in absent] == []


def told(service: Callable[..., Result], **facts: Any) -> Result:
    """One step of a story: call the service, then hold the law."""
    result = service(**facts)
    assert_books_agree()
    return result
