"""The label address as an owner types it."""

from urllib.parse import urlsplit

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured, ValidationError
from django.http.request import validate_host

from stash.label_address import is_loopback, warning_of
from stash.site.environment import read_address


def read_label_address(text: str) -> str:
    """As it goes before /k/...: scheme, host and port. Raises ValidationError saying what would be accepted."""
    try:
        address = read_address({"it": text}, "it", "")
    except ImproperlyConfigured as error:
        raise ValidationError(
            "Give http:// or https://, the host and its port if it has one, and no path: http://loft.example:8000"
        ) from error
    if is_loopback(address.host):
        raise ValidationError(
            f"{address.host} leads back to the machine that asks: a phone would look for the studio in itself. Give "
            "the name or number by which other machines reach this one."
        )
    return address.origin


def label_address_troubles(address: str) -> list[str]:
    """What an owner should know of an address that is accepted."""
    if not address:
        return []
    host = urlsplit(address).hostname or ""
    host = f"[{host}]" if ":" in host else host
    troubles = [warning_of(address)] if warning_of(address) else []
    if not validate_host(host, settings.ALLOWED_HOSTS):
        troubles.append(
            f"The studio does not answer to {host} yet: start it with --network {host}, or behind "
            "a proxy with SITE_URL."
        )
    return troubles
