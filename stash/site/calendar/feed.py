"""The studio's days as an iCalendar (RFC 5545, with the names and the interval of RFC 7986).

Days of the studio are whole days without a time zone, so every event is of DATE values; its end is the day after, as
the standard has it. They take nobody's time (TRANSP). A UID stays what it is while a day is moved: calendars then move
the event. DTSTAMP has no time of day, so that what did not change since is the same bytes and need not be sent again.
"""

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from unicodedata import category
from uuid import NAMESPACE_URL, uuid5

from icalendar import Calendar, Event, vDuration

from projects.days import Dated
from stash.models import Studio

PRODID = "-//Warpshelf//Days of the studio//EN"
READ_EVERY = timedelta(hours=4)


def calendar_of(studio: Studio, days: Iterable[Dated], *, root: str, today: date) -> bytes:
    """`root` is scheme, host and port for the addresses of the pages behind the events."""
    name = _line(f"{studio.name}: days")
    calendar = Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    calendar.add("name", name)
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", vDuration(READ_EVERY), parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(READ_EVERY))
    stamp = datetime.combine(today, time(), UTC)
    for one in days:
        calendar.add_component(_event(studio, one, root, stamp))
    return calendar.to_ical()


def uid_of(studio: Studio, key: str) -> str:
    """Of one thing of one studio, for ever: by when the studio was made, which moves with its books."""
    return str(uuid5(NAMESPACE_URL, f"warpshelf:{studio.made_at.astimezone(UTC).isoformat()}:{key}"))


def _event(studio: Studio, one: Dated, root: str, stamp: datetime) -> Event:
    event = Event()
    event.add("uid", uid_of(studio, one.key))
    event.add("dtstamp", stamp)
    event.add("dtstart", one.on)
    event.add("dtend", min(one.until, date.max - timedelta(days=1)) + timedelta(days=1))
    event.add("summary", _line(one.title))
    late = "Late: it has not been done. " if one.late else ""
    if description := _tidy(f"{late}{one.more}").strip():
        event.add("description", description)
    event.add("url", f"{root}{one.href}")
    event.add("categories", [str(one.kind)])
    event.add("transp", "TRANSPARENT")
    return event


def _tidy(text: str) -> str:
    """Without control characters, of which the standard admits line breaks alone, and those as one sign."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(sign for sign in text if sign == "\n" or category(sign) != "Cc")


def _line(text: str) -> str:
    """One line, as a title is."""
    return " ".join(_tidy(text).split())
