"""The archive of the whole studio: the tables of both apps, read from one moment, opened in an empty studio."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO

from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.contrib.sessions.models import Session
from django.core.exceptions import ValidationError
from django.db import DEFAULT_DB_ALIAS, connection, transaction
from django.utils import timezone
from django.utils.text import slugify

from projects.archive import TABLES as OF_PROJECTS
from projects.wording import counted
from stash.archive.form import SUFFIX
from stash.archive.loading import load
from stash.archive.reading import Archive
from stash.archive.shelf import TABLES as OF_SHELF
from stash.archive.table import Layout
from stash.archive.writing import write_archive
from stash.models import Person, Role, Studio
from stash.services.refusal import Refusal
from stash.site.folders import photos_folder
from stash.site.sqlite import copy_books, opened

LAYOUT = Layout((*OF_SHELF, *OF_PROJECTS))


@contextmanager
def snapshot() -> Iterator[str]:
    """The name of a connection that sees the studio as it is now, whoever writes meanwhile; nobody waits for it."""
    if connection.in_atomic_block:  # its own writes are seen by no other connection
        yield DEFAULT_DB_ALIAS
    elif connection.vendor == "sqlite":
        with TemporaryDirectory(prefix="warpshelf-") as folder:
            copy = Path(folder) / "studio.sqlite3"
            copy_books(copy)
            with opened(copy) as using:
                yield using
    else:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield DEFAULT_DB_ALIAS


def write_studio(file: IO[bytes], *, sign_ins: bool = False) -> dict[str, int]:
    """Write the studio's archive to a file that can be sought in; rows by table."""
    with snapshot() as using:
        return write_archive(file, LAYOUT, photos_folder(), using=using, sign_ins=sign_ins)


def in_words(rows: Mapping[str, int]) -> str:
    """What an archive or a backup holds, for people."""
    return ", ".join(
        [
            counted(rows.get("cones", 0), "cone"),
            counted(rows.get("entries", 0), "entry", "entries"),
            counted(rows.get("projects", 0), "project"),
            counted(sum(rows.get(table.name, 0) for table in LAYOUT if table.photos), "photo"),
        ]
    )


def archive_name() -> str:
    """A name for the file, after the studio and today."""
    studio = Studio.objects.filter(pk=1).first()
    name = slugify(studio.name)[:40] if studio else ""
    return f"{name or 'studio'}-{timezone.localdate():%Y-%m-%d}{SUFFIX}"


def open_studio(
    file: IO[bytes] | Path, *, username: str = "", password: str = "", replace: bool = False
) -> dict[str, int]:
    """Open an archive in an empty studio, or in place of what is there; rows by table.

    The owner named, if one is, gets the password given. Where a studio is replaced, whoever is in both under the same
    sign-in name keeps the password; everyone is signed out. Raises Refusal (Unreadable is one), ValidationError.
    """
    with Archive(file, LAYOUT) as archive:
        passwords: dict[str, str] = {}
        if replace:
            passwords = {
                name.casefold(): kept for name, kept in Person.objects.values_list("username", "password")
            }
        if username:
            passwords |= _owner_password(archive.owners, username, password)
        _load(archive, replace, passwords)
        return {table.name: archive.count(table) for table in LAYOUT}


def _load(archive: Archive, replace: bool, passwords: Mapping[str, str]) -> None:
    with transaction.atomic():
        load(archive, photos_folder(), replace=replace, passwords=passwords)
        if replace:
            Session.objects.all().delete()


def _owner_password(owners: list[str], username: str, password: str) -> dict[str, str]:
    name = Person.normalize_username(username.strip()).casefold()
    if name not in {owner.casefold() for owner in owners}:
        raise Refusal(
            f"No owner of this archive signs in as “{username.strip()}”. Its owners: {', '.join(owners)}.",
            field="username",
        )
    try:
        validate_password(password, Person(username=username, role=Role.OWNER))
    except ValidationError as error:
        raise ValidationError({"password": error.messages}) from error
    return {name: make_password(password)}
