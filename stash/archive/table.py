"""Tables of an archive, and the layout that they make together."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import models

from stash.archive.column import Column, column_of


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of one model, with `id` and the named fields in this order.

    `since` is the version of archives from which on there is this table, `newer` the same of columns that came later
    than it: an older archive gives no rows, and for such a column what a new row would have. `carried_over` then says
    of rows loaded from an older version what no default can.

    `left_out` are the fields that an archive does not keep, each with what a loaded row is given; `searched` gives
    key and text of the search column, which is worked out anew; `unfit` says of loaded rows what no rule of the
    database holds, and pages rely on. In a table of `photos` each row names a file of the photos' folder by `file`.
    """

    name: str
    model: type[models.Model]
    fields: Sequence[str]
    left_out: Mapping[str, Callable[[], Any]] = field(default_factory=dict)
    searched: Callable[[str], Iterable[tuple[int, str]]] | None = None
    unfit: Callable[[str], Iterable[str]] | None = None
    since: int = 1
    newer: Mapping[str, int] = field(default_factory=dict)
    carried_over: Callable[[str, int], None] | None = None
    photos: bool = False

    @property
    def columns(self) -> list[Column]:
        return [column_of(self.model._meta.get_field(name)) for name in ("id", *self.fields)]

    def columns_in(self, version: int) -> list[Column]:
        """Those that an archive of this version has."""
        return [column for column in self.columns if self.newer.get(column.name, self.since) <= version]

    @property
    def member(self) -> str:
        """Its file in the archive."""
        return f"tables/{self.name}.jsonl"


class Layout:
    """All tables of a studio; each may refer to itself and to those before it."""

    def __init__(self, tables: Iterable[Table]) -> None:
        self.tables = tuple(tables)
        self.of_model = {table.model: table for table in self.tables}
        seen: set[type[models.Model]] = set()
        for table in self.tables:
            seen.add(table.model)
            for column in table.columns:
                if column.points_to is not None and column.points_to not in seen:
                    raise ValueError(
                        f"{table.name} refers by {column.name} to what comes later, or not at all."
                    )

    def __iter__(self) -> Iterator[Table]:
        return iter(self.tables)

    def photo_files(self, using: str) -> list[str]:
        """The names of all photos' files, table by table."""
        named: list[str] = []
        for table in self.tables:
            if table.photos:
                named += table.model._base_manager.using(using).order_by("pk").values_list("file", flat=True)
        return named

    def tables_in(self, version: int) -> list[Table]:
        return [table for table in self.tables if table.since <= version]
