"""The machine's own time zone: a studio's days begin where the studio stands."""

from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError


def system_time_zone() -> str:
    """The IANA name that /etc/localtime points to, or UTC where the machine does not say."""
    _, found, name = str(Path("/etc/localtime").resolve()).partition("zoneinfo/")
    if not found:
        return "UTC"
    try:
        return ZoneInfo(name).key
    except (ZoneInfoNotFoundError, ValueError):
        return "UTC"
