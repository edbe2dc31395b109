"""Private addresses at which a person's own calendar reads the studio's days.

An address is its own key: whoever has it reads, without a sign-in, since calendars have none. Its token has 192 random
bits, so that tries at guessing one need no limit, and only its hash is kept. A plain hash is enough for a secret that
nobody chose, and unlike one under the studio's key it outlives a backup that is restored elsewhere.
"""

import hashlib
import secrets
from datetime import timedelta

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from stash.models import CalendarAddress, Person
from stash.services.refusal import Refusal

MOST_LIVE = 20
READ_AGAIN = timedelta(hours=1)
"""When an address was last read is noted this often at most: calendars ask all day long."""
_BYTES = 24


@transaction.atomic
def make_address(*, person: Person, name: str) -> tuple[CalendarAddress, str]:
    """An address of that name, and its token, which is known now and never again. Raises Refusal naming the field."""
    name = " ".join(name.split())
    Person.objects.select_for_update(of=("self",), no_key=True).get(pk=person.pk)
    live = CalendarAddress.objects.filter(person=person, revoked_at=None)
    if not name:
        raise Refusal("Give it a name, such as My phone.", field="name")
    if live.filter(name=name).exists():
        raise Refusal(
            f"You have an address called {name} already. Revoke it first, or take another name.", field="name"
        )
    if live.count() >= MOST_LIVE:
        raise Refusal(f"You have {MOST_LIVE} addresses. Revoke one that is not read any more first.")
    token = secrets.token_urlsafe(_BYTES)
    made = CalendarAddress(person=person, name=name, token_hash=hash_of(token), made_at=timezone.now())
    made.full_clean()
    made.save()
    return made, token


@transaction.atomic
def revoke_address(*, pk: int, person: Person) -> CalendarAddress:
    """From now on nobody reads there. Raises Refusal."""
    found = CalendarAddress.objects.select_for_update(of=("self",), no_key=True)
    address = found.filter(pk=pk, person=person).first()
    if address is None:
        raise Refusal("There is no such address of yours.")
    if address.revoked_at is None:
        address.revoked_at = timezone.now()
        address.save(update_fields=["revoked_at"])
    return address


def find_address(token: str) -> CalendarAddress | None:
    """The address if it is good, and so is its person's way in."""
    found = CalendarAddress.objects.select_related("person")
    return found.filter(token_hash=hash_of(token), revoked_at=None, person__is_active=True).first()


def note_reading(address: CalendarAddress) -> None:
    now = timezone.now()
    old = Q(read_at=None) | Q(read_at__lte=now - READ_AGAIN)
    if address.read_at is None or address.read_at <= now - READ_AGAIN:
        CalendarAddress.objects.filter(old, pk=address.pk).update(read_at=now)


def hash_of(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
