"""System checks of our own, each with a hint."""

from typing import Any

from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.urls import URLPattern, URLResolver, get_resolver


def all_patterns(resolver: URLResolver | None = None, prefix: str = "") -> list[tuple[str, URLPattern]]:
    """Every route of the site with its whole path."""
    found: list[tuple[str, URLPattern]] = []
    for pattern in (resolver or get_resolver()).url_patterns:
        path = prefix + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            found += all_patterns(pattern, path)
        else:
            found.append((path, pattern))
    return found


@register(Tags.security)
def every_view_says_who_may_open_it(**_: Any) -> list[CheckMessage]:
    return [
        Error(
            f"The page /{path} does not say who may open it.",
            hint="Mark its view with one of the words in stash/access.py.",
            id="stash.E001",
        )
        for path, pattern in all_patterns()
        if not hasattr(pattern.callback, "access")
    ]


@register(Tags.database)
def ledger_guards_stand(databases: list[str] | None = None, **_: Any) -> list[CheckMessage]:
    """Runs with `check --database default`, and at every start after migrating.

    A warning, since an error would stop `migrate`, which is the cure.
    """
    from django.db import connections

    from stash.models import guards

    messages: list[CheckMessage] = []
    for alias in databases or []:
        if guards.TABLE not in connections[alias].introspection.table_names():
            continue
        messages += [
            Warning(
                f"The trigger {name}, which keeps the ledger from being changed, is missing.",
                hint="Run `python manage.py migrate`: it makes the triggers anew.",
                id="stash.W002",
            )
            for name in guards.missing(alias)
        ]
    return messages
