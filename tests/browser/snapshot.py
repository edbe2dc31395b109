"""All rows of the database, kept aside and put back: by its own copying on each of the two databases."""

import sqlite3
from typing import Any, Protocol

from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper


class Snapshot(Protocol):
    def restore(self, connection: BaseDatabaseWrapper) -> None: ...


def take_snapshot(connection: BaseDatabaseWrapper) -> Snapshot:
    connection.ensure_connection()
    return (_Tables if connection.vendor == "postgresql" else _File)(connection)


class _File:
    """SQLite copies the file, page by page, also under other connections."""

    def __init__(self, connection: BaseDatabaseWrapper) -> None:
        self._kept = sqlite3.connect(":memory:", check_same_thread=False)
        connection.connection.backup(self._kept)

    def restore(self, connection: BaseDatabaseWrapper) -> None:
        connection.ensure_connection()
        self._kept.backup(connection.connection)


class _Tables:
    """PostgreSQL copies tables out and in; foreign keys are looked at when all are there."""

    def __init__(self, connection: BaseDatabaseWrapper) -> None:
        with connection.cursor() as cursor:
            names = connection.introspection.table_names(cursor)
            self._rows = {name: self._out(cursor, name) for name in names}
            cursor.execute("SELECT sequencename, last_value FROM pg_sequences WHERE last_value IS NOT NULL")
            self._last = cursor.fetchall()

    @staticmethod
    def _out(cursor: Any, name: str) -> bytes:
        with cursor.cursor.copy(f'COPY "{name}" TO STDOUT') as copy:
            return b"".join(bytes(block) for block in copy)

    def restore(self, connection: BaseDatabaseWrapper) -> None:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("TRUNCATE " + ", ".join(f'"{name}"' for name in self._rows))
            for name, rows in self._rows.items():
                with cursor.cursor.copy(f'COPY "{name}" FROM STDIN') as copy:
                    copy.write(rows)
            for name, last in self._last:
                cursor.execute("SELECT setval(%s, %s)", [f'"{name}"', last])
