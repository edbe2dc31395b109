"""This machine's numbers and names on the local network, found without asking anybody else."""

import re
import socket
import struct
import sys
from pathlib import Path

_SIOCGIFADDR = 0x8915  # Linux: the IPv4 address of an interface
_ROUTES = Path("/proc/net/route")
_NAME = re.compile(r"[a-z0-9]([a-z0-9.-]*[a-z0-9])?\Z")


def own_numbers() -> list[str]:
    """IPv4 addresses at which others may reach this machine, the one on the way out first."""
    found = _by_interface() if sys.platform == "linux" else _by_name()
    return [number for number in dict.fromkeys(found) if not number.startswith("127.")]


def own_names() -> list[str]:
    """The host name, as the network may know it: with .local where it has no domain (RFC 6762)."""
    name = socket.gethostname().casefold().rstrip(".")
    if not _NAME.match(name) or name == "localhost":
        return []
    return [name] if "." in name else [f"{name}.local", name]


def _by_interface() -> list[str]:
    import fcntl

    way_out = _interfaces_on_the_way_out()
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        for _, interface in sorted(socket.if_nameindex(), key=lambda one: (one[1] not in way_out, one[0])):
            request = struct.pack("256s", interface.encode()[:15])
            try:
                answer = fcntl.ioctl(asked.fileno(), _SIOCGIFADDR, request)
            except OSError:  # an interface without such an address
                continue
            found.append(socket.inet_ntoa(answer[20:24]))
    return found


def _interfaces_on_the_way_out() -> set[str]:
    try:
        rows = [line.split() for line in _ROUTES.read_text().splitlines()[1:]]
    except OSError:
        return set()
    return {row[0] for row in rows if len(row) > 1 and row[1] == "00000000"}


def _by_name() -> list[str]:
    try:
        found = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        return []
    return [str(answer[4][0]) for answer in found]
