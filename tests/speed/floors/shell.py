"""What all floors share: rows by hand-written SQL, and the base template around a finished string."""

from __future__ import annotations

from datetime import UTC, date, datetime
from functools import cache
from html import escape
from types import SimpleNamespace
from typing import Any

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.template import engines
from django.utils import timezone

_PAGE = """{% extends "base.html" %}{% block head %}{{ head|safe }}{% endblock %}{% block title %}{{ title }}{% endblock %}
{% block kicker %}{{ kicker }}{% endblock %}{% block heading %}{{ title }}{% endblock %}
{% block lede %}<p class="lede">{{ lede }}</p>{% endblock %}
{% block tools %}{{ tools|safe }}{% endblock %}{% block content %}{{ content|safe }}{% endblock %}"""

KEY = (
    '<div class="key" aria-hidden="true"><span><svg width="32" height="12"><rect class="free" width="32" '
    'height="12"/></svg>free</span><span><svg class="bar-sample" width="32" height="12"><rect class="reserved" '
    'width="32" height="12" fill-opacity=".35"/><rect width="32" height="12" fill="url(#hatch)"/></svg>reserved'
    '</span><span><svg width="10" height="8"><path d="M0 7 5 0l5 7z" fill="currentColor"/></svg>keep level</span>'
)
KEY_OF_NEED = (
    '<span><svg width="20" height="16"><path d="M0 2h18v14" fill="none" stroke="currentColor" stroke-width="2.5"/>'
    "</svg>need, and what is missing</span>"
)


@cache
def _template() -> Any:
    return engines["django"].from_string(_PAGE)


def page(request: HttpRequest, section: str, title: str, content: list[str], **parts: str) -> HttpResponse:
    """The base page around the joined content. `parts`: head, kicker, lede, tools."""
    context = {"section": section, "title": title, "content": "".join(content), **parts}
    return HttpResponse(_template().render(context, request))


def fetch(sql: str, parameters: Any = ()) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        return cursor.fetchall()


def fetch_named(sql: str, parameters: Any = ()) -> list[SimpleNamespace]:
    with connection.cursor() as cursor:
        cursor.execute(sql, parameters)
        names = [column[0] for column in cursor.description]
        return [SimpleNamespace(**dict(zip(names, row, strict=True))) for row in cursor.fetchall()]


def marks(values: Any) -> str:
    """As many placeholders."""
    return ",".join(["%s"] * len(values)) or "NULL"


def as_day(value: Any) -> date | None:
    """A date column: a date, or on SQLite, where the query says no type, its text."""
    return date.fromisoformat(value) if isinstance(value, str) else value


def as_local(value: datetime) -> datetime:
    """A timestamp column in the studio's time zone; SQLite keeps it in UTC and says no zone."""
    return timezone.localtime(value if value.tzinfo else value.replace(tzinfo=UTC))


def short_day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def text(value: Any) -> str:
    return escape(str(value))


def hidden_token(request: HttpRequest) -> str:
    return f'<input type="hidden" name="csrfmiddlewaretoken" value="{get_token(request)}">'


def page_links(kept: str, what: str, count: int, a_page: int, offered: list[int | str]) -> str:
    """Links to the pages of a list, from its first. `kept`: the rest of the address, ending in &amp;."""
    links = [
        '<span aria-current="page"><span class="aside-for-ears">page </span>1</span>'
        if number == 1
        else "<span>…</span>"
        if number == "…"
        else f'<a href="?{kept}page={number}"><span class="aside-for-ears">page </span>{number}</a>'
        for number in offered
    ]
    return (
        f'<nav class="pages" aria-label="Pages of {what}">{"".join(links)}<a href="?{kept}page=2" rel="next">Further</a>'
        f'<span class="total">1 to {min(a_page, count)} of {count} {what}</span></nav>'
    )


def options(values: list[tuple[str, str]], chosen: str = "") -> str:
    return "".join(
        f'<option value="{text(value)}"{" selected" if value == chosen else ""}>{text(label)}</option>'
        for value, label in values
    )
