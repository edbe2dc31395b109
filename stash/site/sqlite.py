"""SQLite's own ways: an online copy of the books, and looking into such a copy through the models."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from copy import deepcopy
from pathlib import Path
from uuid import uuid4

from django.db import connection, connections

SECONDS_TO_WAIT = 20


def live_path() -> Path:
    return Path(str(connection.settings_dict["NAME"]))


def copy_books(to: Path) -> None:
    """The live books as they are at this moment, in one step: page by page, a busy writer would start it anew
    for ever. Raises sqlite3.Error."""
    with closing(sqlite3.connect(live_path(), timeout=SECONDS_TO_WAIT)) as source:
        copy_into(source, to)
    with closing(sqlite3.connect(to)) as copy:
        # One file, without a log beside it.
        copy.execute("PRAGMA journal_mode=DELETE")


def copy_into(source: sqlite3.Connection, to: Path) -> None:
    """Over what is there, through SQLite: a file put in another's place under its log (WAL) is damaged by it."""
    with closing(sqlite3.connect(to, timeout=SECONDS_TO_WAIT)) as target:
        source.backup(target, pages=-1)


def unsoundness(path: Path) -> str:
    """What SQLite finds wrong with a file, "" if nothing."""
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=rw", uri=True, timeout=SECONDS_TO_WAIT)) as books:
            said = [row[0] for row in books.execute("PRAGMA integrity_check(3)")]
            if said != ["ok"]:
                return "; ".join(said)
            if stray := books.execute("PRAGMA foreign_key_check").fetchone():
                return f"a row of {stray[0]} refers to a row of {stray[2]} that is not there"
    except sqlite3.Error as error:
        return str(error)
    return ""


@contextmanager
def opened(path: Path) -> Iterator[str]:
    """The name of a connection to another file of books, in this thread alone."""
    name = f"copy-{uuid4().hex}"
    wrapper = type(connections["default"])  # the proxy's class is that of the database in use
    facts = deepcopy(connections["default"].settings_dict)
    facts["NAME"] = str(path)
    facts["OPTIONS"] = {"timeout": SECONDS_TO_WAIT, "transaction_mode": "IMMEDIATE"}
    # Set for this thread, not named in the settings: a dictionary that all threads walk through.
    connections[name] = wrapper(facts, name)
    try:
        yield name
    finally:
        connections[name].close()
        del connections[name]
