"""Triggers that keep the ledger growing only, on both databases.

Django rebuilds a SQLite table when it alters one, and drops its triggers in silence. So they are no
migration: they are installed after every migrate, and a system check and the book check say when one
is missing.
"""

from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections

TABLE = "stash_entry"
REFUSAL = "the ledger only grows: put a mistake right by a further entry"

_SQLITE = {
    "stash_entry_no_update": f"BEFORE UPDATE ON {TABLE} BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END",
    "stash_entry_no_delete": f"BEFORE DELETE ON {TABLE} BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END",
}
_POSTGRES_FUNCTION = f"""
CREATE OR REPLACE FUNCTION stash_entry_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation'; END $$
"""
_POSTGRES = {
    "stash_entry_no_update": f"BEFORE UPDATE ON {TABLE} FOR EACH STATEMENT EXECUTE FUNCTION stash_entry_refuse()",
    "stash_entry_no_delete": f"BEFORE DELETE ON {TABLE} FOR EACH STATEMENT EXECUTE FUNCTION stash_entry_refuse()",
}

NAMES = tuple(_SQLITE)


def install(using: str = DEFAULT_DB_ALIAS) -> None:
    """Make both triggers anew. Safe to repeat."""
    connection = connections[using]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRES_FUNCTION)
        for name, body in (_POSTGRES if connection.vendor == "postgresql" else _SQLITE).items():
            drop(using, name)
            cursor.execute(f"CREATE TRIGGER {name} {body}")


def drop(using: str, name: str) -> None:
    """Take one trigger away. For the test suite alone, whose flush deletes rows."""
    connection = connections[using]
    on_table = f" ON {TABLE}" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on_table}")


def missing(using: str = DEFAULT_DB_ALIAS) -> list[str]:
    """Names of the triggers that should stand in the database and do not."""
    connection = connections[using]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT tgname FROM pg_trigger WHERE tgname LIKE 'stash_entry_%%'")
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        present = {row[0] for row in cursor.fetchall()}
    return sorted(set(_SQLITE) - present)


def install_after_migrate(using: str = DEFAULT_DB_ALIAS, **_: Any) -> None:
    """Receiver of post_migrate."""
    if TABLE in connections[using].introspection.table_names():
        install(using)
