"""Where a phone finds the studio, and its way through the limits on tries."""

from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth import authenticate
from django.contrib.auth.backends import ModelBackend
from django.http import HttpRequest

from stash.label_address import is_loopback, label_root
from stash.models import Person, PhoneCode
from stash.services.phones import find_code

# Tries at codes are counted by address under this name. It is longer than any sign-in name may be.
COUNTED_AS = "a code by which a phone signs in, and nobody's name"


class PhoneCodeBackend(ModelBackend):
    """Knows whose a code is. It uses none up: a page that only asks must not, and the service does."""

    def authenticate(self, request: HttpRequest | None, phone_code: str = "", **_: Any) -> Person | None:
        found = find_code(phone_code) if phone_code else None
        if found is None or request is None:
            return None
        request.phone_code = found
        return found.person


def try_code(request: HttpRequest, code: str) -> PhoneCode | None:
    """The code if it is good. Each wrong one is counted as a wrong password is, and closes the door in time."""
    if authenticate(request, username=COUNTED_AS, phone_code=code) is None:
        return None
    return request.phone_code


def reachable_address(request: HttpRequest) -> str:
    """Scheme, host and port at which a phone finds the studio; "" when it is served to this machine alone."""
    here = urlsplit(f"//{request.get_host()}")
    if not is_loopback(here.hostname or ""):
        return f"{request.scheme}://{request.get_host()}"
    root = label_root(request.studio)
    if root:
        return root
    if settings.NETWORK and settings.NETWORK_HOSTS:
        return f"http://{settings.NETWORK_HOSTS[0]}:{here.port or 80}"
    return ""
