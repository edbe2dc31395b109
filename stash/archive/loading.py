"""Putting a checked archive into a database, all or nothing."""

import contextlib
import os
import shutil
from collections.abc import Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import Any
from uuid import uuid4

from django.core.management.color import no_style
from django.db import DEFAULT_DB_ALIAS, DatabaseError, IntegrityError, connections, models, transaction
from django.db.models import Field

from stash.archive.reading import Archive, Unreadable
from stash.archive.table import Layout, Table
from stash.models import CalendarAddress, Person, PhoneCode, Studio, guards
from stash.models.folding import FoldedField
from stash.services.books import row_faults
from stash.services.refusal import Refusal

BATCH = 2000


def load(
    archive: Archive,
    photos: Path,
    *,
    using: str = DEFAULT_DB_ALIAS,
    replace: bool = False,
    passwords: Mapping[str, str] | None = None,
) -> None:
    """Write the archive's studio into an empty database, and its photos into a folder.

    `replace` empties the database first, in the same transaction. `passwords` are hashes by sign-in name, for those who
    keep theirs. Raises Refusal where a studio stands already, Unreadable where database or book check refuse what the
    archive says; then nothing is written.
    """
    with transaction.atomic(using=using):
        if replace:
            _empty(archive.layout, using)
        elif Studio.objects.using(using).exists() or not _is_empty(archive.layout, using):
            raise Refusal("There is a studio here already. An archive is opened in an empty data folder.")
        try:
            for table in archive.layout:
                _insert(archive, table, using)
            for table in archive.layout:
                if table.carried_over:
                    table.carried_over(using, archive.version)
            _set_passwords(archive, passwords or {}, using)
            _set_searches(archive.layout, using)
            connections[using].check_constraints(table.model._meta.db_table for table in archive.layout)
            unfit = [words for table in archive.layout if table.unfit for words in table.unfit(using)]
            faults = row_faults(using)
        except DatabaseError as error:
            raise Unreadable(f"The database does not take what the archive says: {error}".strip()) from error
        if unfit:
            raise Unreadable(f"The archive holds what cannot be worked with. {unfit[0]}")
        if faults:
            raise Unreadable(
                f"The books in this archive do not agree with themselves (faults: {len(faults)}). {faults[0].words}"
            )
        _reset_sequences(archive.layout, using)
        if replace:
            guards.install(using)
        put_photos(archive, photos)
    if replace:
        drop_strange_photos(photos, archive.layout, using)


def put_photos(archive: Archive, folder: Path) -> None:
    """Write the photos beside what is there; each appears whole or not at all."""
    if not archive.photos:
        return
    folder.mkdir(parents=True, exist_ok=True)
    for name in archive.photos:
        part = folder / f".{uuid4().hex}.part"
        try:
            with archive.open_photo(name) as source, part.open("wb") as target:
                shutil.copyfileobj(source, target)
                target.flush()
                os.fsync(target.fileno())
            part.replace(folder / name)
        finally:
            part.unlink(missing_ok=True)


def drop_strange_photos(folder: Path, layout: Layout, using: str = DEFAULT_DB_ALIAS) -> None:
    """Take away the files of photos that no row names any more."""
    named = set(layout.photo_files(using))
    if folder.is_dir():
        for path in folder.iterdir():
            if path.is_file() and path.name not in named:
                with contextlib.suppress(OSError):
                    path.unlink()


def _is_empty(layout: Layout, using: str) -> bool:
    return not any(table.model._base_manager.using(using).exists() for table in layout)


def _empty(layout: Layout, using: str) -> None:
    """Take every row away. The ledger's guards would refuse: they go first, and come back after loading."""
    for name in guards.wanted(connections[using]):
        guards.drop(using, name)
    for model in (PhoneCode, CalendarAddress, *(table.model for table in reversed(layout.tables))):
        rows = model._base_manager.using(using).all()
        rows._raw_delete(using)


def _insert(archive: Archive, table: Table, using: str) -> None:
    connection = connections[using]
    names = {column.field.attname for column in table.columns} | set(table.left_out)
    fields = [field for field in table.model._meta.concrete_fields if field.attname in names]
    place = {column.field.attname: at for at, column in enumerate(table.columns)}
    quote = connection.ops.quote_name
    sql = (
        f"INSERT INTO {quote(table.model._meta.db_table)} ({', '.join(quote(one.column) for one in fields)}) "
        f"VALUES ({', '.join(['%s'] * len(fields))})"
    )

    def value_of(field: "Field[Any, Any]", values: list[Any]) -> Any:
        if isinstance(field, FoldedField):
            return field.folded(values[place[field.source]])
        return values[place[field.attname]] if field.attname in place else table.left_out[field.attname]()

    def prepared(values: list[Any]) -> list[Any]:
        return [field.get_db_prep_save(value_of(field, values), connection) for field in fields]

    number, rows = 1, map(prepared, archive.rows(table))
    with connection.cursor() as cursor:
        while batch := list(islice(rows, BATCH)):
            try:
                with transaction.atomic(using=using):
                    cursor.executemany(sql, batch)
            except IntegrityError:
                for line, row in enumerate(batch, number):
                    _insert_one(cursor, sql, row, table, line, using)
            number += len(batch)


def _insert_one(cursor: Any, sql: str, row: list[Any], table: Table, line: int, using: str) -> None:
    """After a batch was refused: find the line, and say why."""
    try:
        with transaction.atomic(using=using):
            cursor.execute(sql, row)
    except IntegrityError as error:
        raise Unreadable(f"{table.name}, line {line}: {_reason(table.model, error)}") from error


def _reason(model: type[models.Model], error: IntegrityError) -> str:
    """The sentence of the rule that refused, if it can be told which."""
    said = str(error)
    for constraint in model._meta.constraints:
        if constraint.name in said:
            return str(constraint.violation_error_message)
    return f"the database refuses it ({said.splitlines()[0]})."


def _set_passwords(archive: Archive, kept: Mapping[str, str], using: str) -> None:
    own = archive.sign_ins()
    for person in Person.objects.using(using).order_by("pk"):
        password = kept.get(person.username.casefold()) or own.get(person.pk)
        if password:
            person.password = password
            person.save(using=using, update_fields=["password"])


def _set_searches(layout: Layout, using: str) -> None:
    connection = connections[using]
    quote = connection.ops.quote_name
    for table in layout:
        if table.searched is None:
            continue
        name = quote(table.model._meta.db_table)
        found: Iterator[tuple[str, int]] = ((text, pk) for pk, text in list(table.searched(using)))
        with connection.cursor() as cursor:
            while batch := list(islice(found, BATCH)):
                cursor.executemany(f"UPDATE {name} SET search = %s WHERE id = %s", batch)


def _reset_sequences(layout: Layout, using: str) -> None:
    """The rows came with their keys: the next key is one after the last."""
    connection = connections[using]
    statements = connection.ops.sequence_reset_sql(no_style(), [table.model for table in layout])
    if statements:
        with connection.cursor() as cursor:
            for statement in statements:
                cursor.execute(statement)
