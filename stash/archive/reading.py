"""Reading an archive: all of it is checked before anything is written.

Files in it are stored, not compressed, so that none can unfold to more than the archive's own size.
"""

import json
from collections.abc import Iterator
from hashlib import sha256
from io import BufferedReader
from pathlib import Path
from typing import IO, Any
from zipfile import ZIP_STORED, BadZipFile, ZipFile

from django.contrib.auth.hashers import identify_hasher

from stash.archive.column import Column, in_given_order
from stash.archive.form import (
    FORMAT,
    HEAD,
    MOST_HEAD,
    MOST_LINE,
    PHOTO_NAME,
    PHOTOS,
    SIGN_INS,
    VERSION,
)
from stash.archive.table import Layout, Table
from stash.models import Person, Role
from stash.services.refusal import Refusal

CHUNK = 1 << 20


class Unreadable(Refusal):
    """The file cannot be opened as an archive; nothing was written."""


class Archive:
    """An archive that has been checked. `rows` gives the values of a table's rows, in the order of its columns."""

    def __init__(self, file: IO[bytes] | Path, layout: Layout) -> None:
        """Check all of it. Raises Unreadable."""
        self.layout = layout
        self.known: dict[str, set[int]] = {}
        self.owners: list[str] = []
        try:
            self._zip = ZipFile(file)
        except (BadZipFile, OSError, ValueError, NotImplementedError) as error:
            raise Unreadable(
                "This is no archive of a studio, or it was cut short: such a file ends in .warpshelf and comes from "
                "the Backup page."
            ) from error
        try:
            self._check()
        except (BadZipFile, EOFError, OSError, NotImplementedError, RuntimeError) as error:
            self.close()
            raise Unreadable(f"The archive is damaged ({error}). Take another copy of it.") from error
        except Unreadable:
            self.close()
            raise

    def close(self) -> None:
        self._zip.close()

    def __enter__(self) -> "Archive":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def count(self, table: Table) -> int:
        return int(self._told[table.name]["rows"]) if table.name in self._told else 0

    @property
    def photos(self) -> list[str]:
        return [entry["file"] for entry in self.head["photos"]]

    def open_photo(self, name: str) -> IO[bytes]:
        return self._zip.open(PHOTOS + name)

    def sign_ins(self) -> dict[int, str]:
        """Password hashes by person, where the archive has them: of a backup only."""
        return dict(self._passwords)

    def rows(self, table: Table) -> Iterator[list[Any]]:
        """Raises Unreadable at the first line that is not as it should be.

        An older archive lacks some columns: there each row has what a new row would have.
        """
        if table.name not in self._told:
            self.known[table.name] = set()
            return
        columns = table.columns_in(self.version)
        missing = [
            (at, column.field.get_default())
            for at, column in enumerate(table.columns)
            if column.name not in {known.name for known in columns}
        ]
        names = [column.name for column in columns]
        own, last = set[int](), 0
        targets = [(at, column, self._keys(table, column, own)) for at, column in enumerate(columns)]
        targets = [target for target in targets if target[2] is not None]
        forward: list[tuple[int, Column, int]] = []
        for number, row in self._objects(table.member):
            if list(row) != names:
                raise Unreadable(f"{table.name}, line {number}: its columns are not {', '.join(names)}.")
            values = [
                _read(table.name, number, column, value)
                for column, value in zip(columns, row.values(), strict=True)
            ]
            if values[0] <= last:
                raise Unreadable(
                    f"{table.name}, line {number}: id {values[0]} comes after {last}; keys must rise."
                )
            last = values[0]
            own.add(last)
            for at, column, keys in targets:
                key = values[at]
                if key is not None and key not in keys:
                    if keys is not own:
                        raise _broken(table, number, column, key)
                    forward.append((number, column, key))
            for at, default in missing:
                values.insert(at, default)
            yield values
        for number, column, key in forward:
            if key not in own:
                raise _broken(table, number, column, key)
        self.known[table.name] = own

    def _keys(self, table: Table, column: Column, own: set[int]) -> set[int] | None:
        if column.points_to is None:
            return None
        return (
            own
            if column.points_to is table.model
            else self.known[self.layout.of_model[column.points_to].name]
        )

    def _check(self) -> None:
        self._check_sizes()
        self.head = self._read_head()
        self.version: int = self.head["version"]
        self._told = {entry["name"]: entry for entry in self.head["tables"]}
        self._check_members()
        self._named: set[str] = set()
        for table in self.layout:
            self._check_table(table)
        if strange := set(self.photos) - self._named:
            raise Unreadable(f"The photo {min(strange)} belongs to nothing.")
        self._passwords = list(self._read_sign_ins())
        for entry in self.head["photos"]:
            self._check_photo(entry)

    def _check_sizes(self) -> None:
        members = self._zip.infolist()
        if len({one.filename for one in members}) < len(members):
            raise Unreadable("The archive holds two files of one name.")
        if any(one.compress_type != ZIP_STORED or one.flag_bits & 1 for one in members):
            raise Unreadable(
                "The files in this archive are compressed or locked. Warpshelf stores them as they are: take the "
                "archive as it was written, not packed anew."
            )
        whole = self._zip.fp.seek(0, 2)
        if sum(one.file_size for one in members) > whole:
            raise Unreadable("The archive says that it holds more than it can.")
        if HEAD not in {one.filename for one in members}:
            raise Unreadable(
                "This is no archive of a studio: it has no archive.json. A backup is taken back by the command restore."
            )
        if self._zip.getinfo(HEAD).file_size > MOST_HEAD:
            raise Unreadable(f"archive.json has more than {MOST_HEAD} bytes.")

    def _read_head(self) -> dict[str, Any]:
        head = _parse(self._zip.read(HEAD), HEAD)
        if not isinstance(head, dict) or head.get("format") != FORMAT:
            raise Unreadable(f"This is no archive of a studio: its archive.json does not say {FORMAT}.")
        version = head.get("version")
        if type(version) is not int or version < 1:
            raise Unreadable(f"archive.json says version {version!r}. Accepted: 1 to {VERSION}.")
        if version > VERSION:
            raise Unreadable(
                f"This archive was written by a newer Warpshelf: its format is version {version}, this one reads up to "
                f"version {VERSION}. Update Warpshelf, then open it."
            )
        if not _well_formed(head):
            raise Unreadable("archive.json does not list tables, sign-ins and photos as it should.")
        return head

    def _check_members(self) -> None:
        tables = self.layout.tables_in(self.version)
        wanted, told = [table.name for table in tables], [entry["name"] for entry in self.head["tables"]]
        if told != wanted:
            strange = [name for name in told if name not in wanted]
            absent = [name for name in wanted if name not in told]
            raise Unreadable(
                f"Its tables are not those of version {self.version}: "
                + (f"unknown {', '.join(strange)}" if strange else "")
                + (" and " if strange and absent else "")
                + (f"missing {', '.join(absent)}" if absent else "")
                + ("in another order" if not strange and not absent else "")
                + "."
            )
        files = [HEAD, *(table.member for table in tables)]
        files += [SIGN_INS] if self.head["sign_ins"] else []
        files += [PHOTOS + entry["file"] for entry in self.head["photos"]]
        there = set(self._zip.namelist())
        if there != set(files) or len(set(files)) < len(files):
            strange = sorted(there ^ set(files))
            raise Unreadable(
                "archive.json and the files beside it do not agree: "
                + ", ".join(strange[:5] or ["a photo twice"])
            )

    def _check_table(self, table: Table) -> None:
        told = self._told.get(table.name, {"rows": 0, "sha256": None})
        names = [column.name for column in table.columns]
        at = {name: place for place, name in enumerate(names)}
        count = 0
        for values in self.rows(table):
            count += 1
            if table.model is Person and values[at["is_active"]] and values[at["role"]] == Role.OWNER:
                self.owners.append(values[at["username"]])
            if table.photos:
                name = values[at["file"]]
                if not PHOTO_NAME.match(name):
                    raise Unreadable(f"{table.name}, line {count}: {name!r} is no plain file name.")
                if name in self._named:
                    raise Unreadable(
                        f"{table.name}, line {count}: the file {name} is a photo of something already."
                    )
                self._named.add(name)
        if count != told["rows"]:
            raise Unreadable(f"{table.name} has {count} rows; archive.json says {told['rows']}.")
        if told["sha256"] is not None and self._digest(table.member) != told["sha256"]:
            raise Unreadable(f"{table.name} was changed after it was written: its checksum is another.")
        if table.name == "studio" and count != 1:
            raise Unreadable(f"An archive holds one studio; this one says {count}.")
        if table.model is Person and not self.owners:
            raise Unreadable("Nobody in this archive is an owner who may sign in.")

    def _read_sign_ins(self) -> Iterator[tuple[int, str]]:
        told = self.head["sign_ins"]
        if not told:
            return
        people, count = self.known["people"], 0
        for number, row in self._objects(SIGN_INS):
            count += 1
            if list(row) != ["person", "password"] or row["person"] not in people:
                raise Unreadable(
                    f"sign-ins, line {number}: a person of this archive and a password hash belong here."
                )
            try:
                identify_hasher(row["password"])
            except (ValueError, TypeError, AttributeError) as error:
                raise Unreadable(f"sign-ins, line {number}: this is no password hash.") from error
            if len(row["password"]) > 128:
                raise Unreadable(f"sign-ins, line {number}: this is no password hash.")
            yield row["person"], row["password"]
        if (count, self._digest(SIGN_INS)) != (told["rows"], told["sha256"]):
            raise Unreadable("The sign-ins were changed after they were written.")

    def _check_photo(self, entry: dict[str, Any]) -> None:
        name = PHOTOS + entry["file"]
        if (self._zip.getinfo(name).file_size, self._digest(name)) != (entry["bytes"], entry["sha256"]):
            raise Unreadable(f"The photo {entry['file']} was changed after it was written.")

    def _digest(self, name: str) -> str:
        digest = sha256()
        with self._zip.open(name) as file:
            while data := file.read(CHUNK):
                digest.update(data)
        return digest.hexdigest()

    def _objects(self, name: str) -> Iterator[tuple[int, dict[str, Any]]]:
        """Line number and object of each line. Only what we would write ourselves is taken."""
        with self._zip.open(name) as raw, BufferedReader(raw, CHUNK) as file:  # type: ignore[type-var]
            number = 0
            while line := file.readline(MOST_LINE + 1):
                number += 1
                where = f"{Path(name).stem}, line {number}"
                if len(line) > MOST_LINE:
                    raise Unreadable(f"{where}: a line has at most {MOST_LINE} bytes.")
                row = _parse(line, where)
                if not isinstance(row, dict) or _written(row) != line:
                    raise Unreadable(f"{where}: this is not written as schema.md says.")
                yield number, row


def _written(row: dict[str, Any]) -> bytes:
    try:
        return f"{in_given_order(row)}\n".encode()
    except (ValueError, RecursionError):  # half of a surrogate pair, no number, nested without end
        return b""


def _parse(data: bytes, where: str) -> Any:
    try:
        return json.loads(data)
    except (ValueError, RecursionError) as error:
        raise Unreadable(f"{where}: this is not JSON in UTF-8.") from error


def _well_formed(head: dict[str, Any]) -> bool:
    """Have the lists of archive.json the right shape?"""
    tables, photos, sign_ins = head.get("tables"), head.get("photos"), head.get("sign_ins")
    return (
        isinstance(tables, list)
        and isinstance(photos, list)
        and all(_is_record(one, name=str, rows=int, sha256=str) for one in tables)
        and all(_is_record(one, file=str, bytes=int, sha256=str) for one in photos)
        and all(PHOTO_NAME.match(one["file"]) for one in photos)
        and (sign_ins is None or _is_record(sign_ins, rows=int, sha256=str))
    )


def _is_record(value: Any, **kinds: type) -> bool:
    return isinstance(value, dict) and {name: type(one) for name, one in value.items()} == kinds


def _read(table: str, number: int, column: Column, value: Any) -> Any:
    try:
        return column.read(value)
    except ValueError as error:
        raise Unreadable(f"{table}, line {number}: {column.name} should be {error}.") from error


def _broken(table: Table, number: int, column: Column, key: int) -> Unreadable:
    return Unreadable(f"{table.name}, line {number}: {column.name} refers to {key}, which is not there.")
