"""What is not written to a log."""

import logging
import re
from typing import Any

_FEED = re.compile(r"(/calendar/feed/)[^/\s]+")


class CutPrivate(logging.Filter):
    """Cuts the private part out of the address of a calendar: whoever has it reads the studio's days."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg = _cut(record.msg)
        if isinstance(record.args, tuple):
            record.args = tuple(_cut(one) for one in record.args)
        return True


def _cut(said: Any) -> Any:
    return _FEED.sub(r"\1…", said) if isinstance(said, str) else said
