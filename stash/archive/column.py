"""One column of an archive's table: how a value of the database is written as JSON, and read back strictly."""

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import (
    MaxLengthValidator,
    MaxValueValidator,
    MinValueValidator,
    ProhibitNullCharactersValidator,
)
from django.db import models

MOST_KEY = 10**12
"""Keys beyond it would leave a database no room to count on."""

_DATE = re.compile(r"\d{4}-\d\d-\d\d\Z")
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z\Z")
_DULL = (MaxLengthValidator, MaxValueValidator, MinValueValidator, ProhibitNullCharactersValidator)

_ENCODER = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), allow_nan=False)

Convert = Callable[[Any], Any]


@dataclass(frozen=True, slots=True)
class Column:
    """`write` gives what JSON holds; `read` takes that back, or raises ValueError saying what it should be."""

    name: str
    field: "models.Field[Any, Any]"
    kind: str
    write: Convert
    read: Convert

    @property
    def points_to(self) -> type[models.Model] | None:
        """The model whose keys stand here; None if it is no reference."""
        return self.field.related_model if self.field.is_relation else None  # type: ignore[return-value]


def column_of(field: "models.Field[Any, Any]") -> Column:
    """The column that keeps a field of a model. Raises TypeError for a kind of field that no archive knows."""
    kind, write, read = _conversion(field)
    if field.null:
        kind, write, read = f"{kind} or null", _or_null(write), _or_null(read)
    return Column(field.name, field, kind, write, read)


def canonical(value: Any) -> str:
    """JSON without spaces, in Unicode, with the keys of objects sorted."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False, sort_keys=True)


def in_given_order(row: dict[str, Any]) -> str:
    """JSON without spaces, in Unicode, with the keys of a row as they stand."""
    return _ENCODER.encode(row)


def _or_null(convert: Convert) -> Convert:
    return lambda value: None if value is None else convert(value)


def _same(value: Any) -> Any:
    return value


def _in_order(value: Any) -> Any:
    """The same with the keys of every object sorted, as no database promises them."""
    return json.loads(canonical(value))


def _conversion(field: "models.Field[Any, Any]") -> tuple[str, Convert, Convert]:
    if field.primary_key or field.is_relation:
        return "key", _same, _whole_reader(1, MOST_KEY)
    if isinstance(field, models.BooleanField):
        return "true or false", bool, _flag
    if isinstance(field, models.IntegerField):
        return "whole number", _same, _whole_reader(*_range(field))
    if isinstance(field, models.DateTimeField):  # which is a DateField too
        return "moment", _write_moment, _read_moment
    if isinstance(field, models.DateField):
        return "date", date.isoformat, _read_date
    if isinstance(field, models.JSONField):
        return "JSON", _in_order, _json_value
    if isinstance(field, models.CharField):
        return "text", _same, _text_reader(field)
    raise TypeError(f"An archive keeps no {type(field).__name__}: {field}.")


def _range(field: "models.Field[Any, Any]") -> tuple[int, int]:
    """What database and validators let through."""
    least = [int(one.limit_value) for one in field.validators if isinstance(one, MinValueValidator)]
    most = [int(one.limit_value) for one in field.validators if isinstance(one, MaxValueValidator)]
    return max(least, default=-(2**63)), min(most, default=2**63 - 1)


def _whole_reader(least: int, most: int) -> Convert:
    def read(value: Any) -> int:
        if type(value) is not int or not least <= value <= most:
            raise ValueError(f"a whole number from {least} to {most}")
        return value

    return read


def _flag(value: Any) -> bool:
    if type(value) is not bool:
        raise ValueError("true or false")
    return value


def _write_moment(value: datetime) -> str:
    return value.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def _read_moment(value: Any) -> datetime:
    if type(value) is str and _MOMENT.match(value):
        try:
            return datetime.fromisoformat(value)
        except ValueError:
            pass
    raise ValueError("a moment such as 2026-11-25T14:03:22.000000Z")


def _read_date(value: Any) -> date:
    if type(value) is str and _DATE.match(value):
        try:
            return date.fromisoformat(value)
        except ValueError:
            pass
    raise ValueError("a date such as 2026-11-25")


def _json_value(value: Any) -> Any:
    if not _storable(canonical(value)):
        raise ValueError("JSON of plain text")
    return value


def _storable(text: str) -> bool:
    """Neither NUL, which PostgreSQL keeps in no text, nor half of a surrogate pair."""
    return (
        "\0" not in text and "\\u0000" not in text and not any("\ud800" <= sign <= "\udfff" for sign in text)
    )


def _text_reader(field: "models.Field[Any, Any]") -> Convert:
    most = field.max_length or 0
    known = frozenset(value for value, _ in field.flatchoices) | ({""} if field.blank else frozenset())
    validators = [one for one in field.validators if not isinstance(one, _DULL)]

    def read(value: Any) -> str:
        if type(value) is not str:
            raise ValueError("text")
        if field.choices:
            if value not in known:
                raise ValueError(f"one of {', '.join(sorted(known - {''}))}")
            return value
        if (
            len(value) > most
            or (not value and not field.blank)
            or not (value.isprintable() or _storable(value))
        ):
            raise ValueError(f"text of {0 if field.blank else 1} to {most} characters")
        if value:
            for validator in validators:
                try:
                    validator(value)
                except ValidationError as error:
                    raise ValueError(" ".join(error.messages)) from error
        return value

    return read
