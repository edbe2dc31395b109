"""Writing an archive: the same studio gives the same bytes."""

import json
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from typing import IO, Any
from zipfile import ZIP_STORED, ZipFile, ZipInfo

from django.contrib.auth.hashers import is_password_usable
from django.db import DEFAULT_DB_ALIAS

from stash.archive.column import in_given_order
from stash.archive.form import EPOCH, FORMAT, HEAD, PHOTO_NAME, PHOTOS, SCHEMA, SIGN_INS, VERSION
from stash.archive.table import Layout, Table
from stash.models import Person

CHUNK = 1 << 20


def write_archive(
    file: IO[bytes],
    layout: Layout,
    photos: Path,
    *,
    using: str = DEFAULT_DB_ALIAS,
    sign_ins: bool = False,
) -> dict[str, int]:
    """Write the studio that `using` holds, with its photos from a folder; rows by table.

    The caller sees to it that nobody changes the rows meanwhile (`stash.site.archive.snapshot`). With `sign_ins` the
    hashes of passwords go with it: for backups, which nobody else gets to see. A photo whose file is missing goes
    without it.
    """
    with ZipFile(file, "w", ZIP_STORED) as archive:
        tables = [_write_lines(archive, table.member, _rows(table, using)) for table in layout]
        head: dict[str, Any] = {
            "format": FORMAT,
            "version": VERSION,
            "schema": SCHEMA,
            "tables": [
                {"name": table.name, "rows": rows, "sha256": digest}
                for table, (rows, digest) in zip(layout, tables, strict=True)
            ],
            "sign_ins": None,
            "photos": [],
        }
        if sign_ins:
            rows, digest = _write_lines(archive, SIGN_INS, _sign_ins(using))
            head["sign_ins"] = {"rows": rows, "sha256": digest}
        for name in layout.photo_files(using):
            if PHOTO_NAME.match(name) and (photos / name).is_file():
                head["photos"].append(_write_photo(archive, photos / name))
        archive.writestr(_info(HEAD), json.dumps(head, ensure_ascii=False, indent=1) + "\n")
    return {entry["name"]: entry["rows"] for entry in head["tables"]}


def _info(name: str) -> ZipInfo:
    info = ZipInfo(name, EPOCH)
    info.create_system = 3  # whatever the system: the bytes must not tell
    info.external_attr = 0o600 << 16
    return info


def _rows(table: Table, using: str) -> Iterator[str]:
    columns = table.columns
    names = [column.name for column in columns]
    writers = [column.write for column in columns]
    rows = (
        table.model._base_manager.using(using)
        .order_by("pk")
        .values_list(*(column.field.attname for column in columns))
        .iterator(2000)
    )
    for row in rows:
        values = [write(value) for write, value in zip(writers, row, strict=True)]
        yield in_given_order(dict(zip(names, values, strict=True)))


def _sign_ins(using: str) -> Iterator[str]:
    for pk, password in Person.objects.using(using).order_by("pk").values_list("pk", "password"):
        if is_password_usable(password):
            yield in_given_order({"person": pk, "password": password})


def _write_lines(archive: ZipFile, name: str, lines: Iterator[str]) -> tuple[int, str]:
    """How many lines, and their checksum."""
    digest, count = sha256(), 0
    with archive.open(_info(name), "w") as file:
        for line in lines:
            data = f"{line}\n".encode()
            digest.update(data)
            file.write(data)
            count += 1
    return count, digest.hexdigest()


def _write_photo(archive: ZipFile, path: Path) -> dict[str, Any]:
    digest, size = sha256(), 0
    with path.open("rb") as source, archive.open(_info(PHOTOS + path.name), "w") as file:
        while data := source.read(CHUNK):
            digest.update(data)
            file.write(data)
            size += len(data)
    return {"file": path.name, "bytes": size, "sha256": digest.hexdigest()}
