"""Fields by which the shelf is searched: a colour by its figures or a shade's name, and since when."""

import re
from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from stash.forms.colours import ColourField
from stash.models import Shade
from stash.models.folding import fold

# The picker of colours writes figures; a name is typed.
_FIGURES = re.compile(r"#?(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{3})")
_MONTHS = re.compile(r"([0-9]{1,3})(?: ?(?:months?|mo))?", re.IGNORECASE)
_ISO = re.compile(r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})")
_DOTS = re.compile(r"([0-9]{1,2})\. ?([0-9]{1,2})\. ?([0-9]{4})")
NAMED = 4


class NearField(forms.CharField):
    """#rrggbb, typed so or as the name of a shade that has a colour."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 60)
        kwargs.setdefault(
            "widget",
            forms.TextInput(
                attrs={"autocomplete": "off", "spellcheck": "false", "placeholder": "#2f5d50 or a shade"}
            ),
        )
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> str:
        text = super().to_python(value)
        if not text:
            return ""
        # A shade may be named Fed or Ada: what begins with # is figures, anything else first a name.
        if not text.startswith("#") and (colour := self._of_shade(text)):
            return colour
        if _FIGURES.fullmatch(text):
            return ColourField(required=False).to_python(text)
        raise ValidationError(
            f"“{text}” is neither a colour nor a shade whose colour is known. Give # and six figures 0-9 a-f, such as "
            "#2f5d50, or the whole name of a shade."
        )

    def _of_shade(self, text: str) -> str:
        named = list(
            Shade.objects.filter(search=fold(text))
            .exclude(colour="")
            .order_by("retired_at", "pk")
            .values_list("colour", "name", "yarn__name")[:50]
        )
        colours = {colour for colour, _, _ in named}
        if len(colours) > 1:
            which = ", ".join(f"{colour} of {yarn}" for colour, _, yarn in named[:NAMED])
            raise ValidationError(f"There is more than one {named[0][1]}. Give the colour instead: {which}.")
        return colours.pop() if colours else ""


class SinceField(forms.CharField):
    """A moment: the beginning of a day, or of today so many months ago."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault(
            "widget",
            forms.TextInput(
                attrs={"autocomplete": "off", "maxlength": 20, "placeholder": "6 months or 2025-12-31"}
            ),
        )
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> datetime | None:
        text = super().to_python(value)
        if not text:
            return None
        day = _day(text, timezone.localdate())
        if day is None:
            raise ValidationError(
                f"“{text}” is no time. Give a number of months, such as 6, or a day as 2025-12-31 or 31.12.2025."
            )
        return timezone.make_aware(datetime.combine(day, time.min))


def _day(text: str, today: date) -> date | None:
    try:
        if found := _MONTHS.fullmatch(text):
            return months_before(today, int(found[1]))
        if found := _ISO.fullmatch(text):
            return _within(date(int(found[1]), int(found[2]), int(found[3])))
        if found := _DOTS.fullmatch(text):
            return _within(date(int(found[3]), int(found[2]), int(found[1])))
    except ValueError:
        return None
    return None


def _within(day: date) -> date | None:
    """Years that neither a clock's offset nor a slip of the finger carries out of the calendar."""
    return day if 1900 <= day.year <= 2999 else None


def months_before(day: date, months: int) -> date:
    """The same day so many months before, or the last of that month where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 - months, 12)
    first_of_next = date(year + month // 11, (month + 1) % 12 + 1, 1)
    return min(date(year, month + 1, 1) + timedelta(days=day.day - 1), first_of_next - timedelta(days=1))
