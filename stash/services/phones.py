"""Codes by which a phone signs in once: made for a person, good for five minutes, gone after one use."""

import secrets
from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac

from stash.models import Person, PhoneCode

LIFE = timedelta(minutes=5)
# Without what looks alike or is misheard: no I, L, O, U, 0, 1.
LETTERS = "ABCDEFGHJKMNPQRSTVWXYZ23456789"
TYPED_LENGTH = 10
_ADDRESS_BYTES = 20


@dataclass(frozen=True, slots=True)
class Codes:
    """Two keys to one door: 160 bits for the address in the QR code, and 49 for typing, where tries are limited."""

    in_address: str
    typed: str

    @property
    def spaced(self) -> str:
        """As it is read out: ABCDE-FGHJK."""
        return f"{self.typed[:5]}-{self.typed[5:]}"


@transaction.atomic
def make_codes(*, person: Person, next_address: str = "") -> Codes:
    """Earlier codes of this person end with it, and everybody's old ones are removed."""
    now = timezone.now()
    PhoneCode.objects.filter(made_at__lte=now - LIFE).delete()
    PhoneCode.objects.filter(person=person).delete()
    codes = Codes(
        secrets.token_urlsafe(_ADDRESS_BYTES), "".join(secrets.choice(LETTERS) for _ in range(TYPED_LENGTH))
    )
    PhoneCode.objects.bulk_create(
        PhoneCode(person=person, code_hash=hash_of(code), next_address=next_address, made_at=now)
        for code in (codes.in_address, codes.typed)
    )
    return codes


def find_code(code: str) -> PhoneCode | None:
    """The code if it is still good; looking does not use it up."""
    found = PhoneCode.objects.select_related("person").filter(
        code_hash=hash_of(code), used_at=None, made_at__gt=timezone.now() - LIFE, person__is_active=True
    )
    return found.first()


@transaction.atomic
def use_code(found: PhoneCode) -> bool:
    """Use it up, with its twin; False when somebody was quicker or its time has run out meanwhile."""
    now = timezone.now()
    good = PhoneCode.objects.filter(used_at=None, made_at__gt=now - LIFE)
    if not good.filter(pk=found.pk).update(used_at=now):
        return False
    good.filter(person=found.person_id).update(used_at=now)
    return True


def hash_of(code: str) -> str:
    """Looked up by its hash under the studio's secret: neither the table nor the time of an answer tells a code."""
    if len(tidy := _tidy(code)) == TYPED_LENGTH:
        code = tidy
    return salted_hmac("stash.phone-code", code, algorithm="sha256").hexdigest()


def _tidy(code: str) -> str:
    """A typed code without the hyphen, blanks and small letters that people put in."""
    return "".join(code.upper().replace("-", " ").split())
