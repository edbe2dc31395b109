"""The address that labels lead to, and the cone that a scanned address means.

A label outlives routers and machines. It holds the cone's code under a short path, `/k/K-053/`: the code stands
on it in letters too, and the path is kept for ever.
"""

import re
import socket
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address
from urllib.parse import quote, unquote, urlsplit

from django.conf import settings
from django.urls import reverse

from stash.models import Cone, Studio

_SCANNED = re.compile(
    r"(?:https?://)?[^/\s?#]*/(?:yarn/cones/(?P<pk>[0-9]{1,18})|k/(?P<code>[^/\s?#]+))/?(?:[?#]\S*)?\Z",
    re.IGNORECASE,
)


def numeric_host(host: str) -> IPv4Address | IPv6Address | None:
    """The address if a host is given in figures, in any way in which browsers read them: 127.1 is 127.0.0.1."""
    host = host.strip("[]").rstrip(".")
    try:
        found = ip_address(host)
    except ValueError:
        try:
            found = IPv4Address(socket.inet_aton(host)) if host[:1].isdigit() else None
        except OSError:
            return None
    return getattr(found, "ipv4_mapped", None) or found


def is_loopback(host: str) -> bool:
    """Leads back to the machine that asks: a phone would look for the studio in itself."""
    number = numeric_host(host)
    if number is not None:
        return number.is_loopback or number.is_unspecified
    name = host.rstrip(".").casefold()
    return name == "localhost" or name.endswith(".localhost")


def warning_of(address: str) -> str:
    """What may go wrong with such an address on a label; nothing for a name."""
    host = urlsplit(address).hostname or ""
    number = numeric_host(host)
    if number is None:
        return ""
    if number.is_private or number.is_link_local:
        return (
            f"{host} is a number that the router gave this machine. When it gives another, every label printed with "
            "this one leads nowhere. Let the router keep the number for this machine, or give a name."
        )
    return f"{host} is a number. A name can move to another machine with the studio; labels with a number cannot."


def label_root(studio: Studio) -> str:
    """Scheme, host and port that labels begin with; "" when there is nothing that a phone could reach."""
    if studio.label_address:
        return str(studio.label_address)
    host = urlsplit(settings.SITE_URL).hostname or ""
    return settings.SITE_URL if settings.BEHIND_PROXY and not is_loopback(host) else ""


def label_text(cone: Cone, root: str) -> str:
    """What a cone's QR code holds: its address, or its bare code where no address is known."""
    if not root:
        return str(cone.code)
    # Browsers read dots and slashes as steps between folders, also written as figures.
    if "/" in cone.code or "\\" in cone.code or not cone.code.strip(". "):
        return root + reverse("cone-page", args=[cone.pk])
    return f"{root}/k/{quote(cone.code, safe='')}/"


@dataclass(frozen=True, slots=True)
class Scanned:
    """What an address of a cone names: its key or its code."""

    pk: int | None
    code: str

    def find(self) -> Cone | None:
        if self.pk is not None:
            return Cone.objects.filter(pk=self.pk).first()
        return cone_of_code(self.code)


def read_scanned(text: str) -> Scanned | None:
    """The cone that a scanned address names, whatever its host: labels may be older than the studio's address."""
    match = _SCANNED.match(text.strip())
    if match is None:
        return None
    return Scanned(int(match["pk"]) if match["pk"] else None, unquote(match["code"] or ""))


def cone_named(text: str) -> Cone | None:
    """The cone whose code, or the address on whose label, this is."""
    scanned = read_scanned(text)
    return scanned.find() if scanned else cone_of_code(text)


def cone_of_code(text: str) -> Cone | None:
    """The cone whose whole code this is, in whatever capitals."""
    matches = Cone.objects.filter(code__iexact=text.strip()).order_by("pk")[:2]
    return matches[0] if len(matches) == 1 else None
