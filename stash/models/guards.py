"""Triggers that keep the ledger growing only, on both databases.

Django rebuilds a SQLite table when it alters one, and drops its triggers in silence. So they are no
migration: they are installed after every migrate, and a system check and the book check say when one
is missing.
"""

from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

TABLE = "stash_entry"
REFUSAL = "the ledger only grows: put a mistake right by a further entry"

_RAISE = f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
_SQLITE = {
    "stash_entry_no_update": f"BEFORE UPDATE ON {TABLE} {_RAISE}",
    "stash_entry_no_delete": f"BEFORE DELETE ON {TABLE} {_RAISE}",
    # INSERT OR REPLACE deletes the old row without asking the trigger above.
    "stash_entry_no_replace": (
        f"BEFORE INSERT ON {TABLE} WHEN EXISTS (SELECT 1 FROM {TABLE} WHERE id = NEW.id) {_RAISE}"
    ),
}
_POSTGRES_FUNCTION = f"""
CREATE OR REPLACE FUNCTION stash_entry_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation'; END $$
"""
_REFUSE = "FOR EACH STATEMENT EXECUTE FUNCTION stash_entry_refuse()"
_POSTGRES = {
    "stash_entry_no_update": f"BEFORE UPDATE ON {TABLE} {_REFUSE}",
    "stash_entry_no_delete": f"BEFORE DELETE ON {TABLE} {_REFUSE}",
    "stash_entry_no_truncate": f"BEFORE TRUNCATE ON {TABLE} {_REFUSE}",
}

NAMES = tuple(sorted(_SQLITE | _POSTGRES))


def wanted(connection: BaseDatabaseWrapper) -> dict[str, str]:
    """The triggers this database should have: name, and what follows it in CREATE TRIGGER."""
    return _POSTGRES if connection.vendor == "postgresql" else _SQLITE


def install(using: str = DEFAULT_DB_ALIAS) -> None:
    """Make all triggers anew, in one transaction. Safe to repeat."""
    connection = connections[using]
    with transaction.atomic(using=using), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRES_FUNCTION)
        for name, body in wanted(connection).items():
            drop(using, name)
            cursor.execute(f"CREATE TRIGGER {name} {body}")


def drop(using: str, name: str) -> None:
    """Take one trigger away. For what must empty the ledger as a whole: the test suite's flush, a restore."""
    connection = connections[using]
    on_table = f" ON {TABLE}" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER IF EXISTS {name}{on_table}")


def missing(using: str = DEFAULT_DB_ALIAS) -> list[str]:
    """Names of the triggers that should stand on the ledger and do not, or are switched off."""
    connection = connections[using]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT tgname FROM pg_trigger WHERE tgrelid = to_regclass(%s) AND tgenabled IN ('O', 'A')",
                [TABLE],
            )
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s", [TABLE])
        present = {row[0] for row in cursor.fetchall()}
    return sorted(set(wanted(connection)) - present)


def install_after_migrate(using: str = DEFAULT_DB_ALIAS, **_: Any) -> None:
    """Receiver of post_migrate."""
    if TABLE in connections[using].introspection.table_names():
        install(using)
