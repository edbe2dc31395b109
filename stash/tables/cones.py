"""The list of cones: sorted and paged by the database."""

from typing import Any

import django_tables2 as tables
from django.db.models import Count, F, Sum
from django_tables2.data import TableData

from stash.models import Cone
from stash.models.cone import ConeQuerySet

_KEYS: dict[str, Any] = {
    "code": F("search"),
    "shade": F("shade__search"),
    "lot": F("lot__name"),
    "place": F("place__name"),
    "net": F("on_hand_mg"),
    "free": F("on_hand_mg") - F("reserved_mg"),
    "weighed": F("weighed_at"),
}


class ConeData(TableData):
    """All cones found, with how many they are and what is on them; a slice of it is one query."""

    def __init__(self, cones: ConeQuerySet) -> None:
        super().__init__(cones)
        sums = cones.order_by().aggregate(cones=Count("pk"), net_mg=Sum("on_hand_mg", default=0))
        self.cone_count: int = sums["cones"]
        self.net_mg: int = sums["net_mg"]

    def __len__(self) -> int:
        return self.cone_count

    def order_by(self, aliases: Any) -> None:
        keys = [
            _KEYS[alias.bare].desc(nulls_last=True)
            if alias.is_descending
            else _KEYS[alias.bare].asc(nulls_last=True)
            for alias in aliases
        ]
        self.data = self.data.order_by(*keys, "pk")

    def __getitem__(self, key: slice) -> list[Cone]:
        return list(self.data.with_names()[key])


class ConeTable(tables.Table):
    """Headings and orders of the list by cone; its template writes the cells."""

    code = tables.Column("Cone")
    shade = tables.Column("Shade")
    lot = tables.Column("Lot")
    place = tables.Column("Place")
    net = tables.Column("Net", attrs={"th": {"class": "num"}})
    gross = tables.Column("With core", orderable=False, attrs={"th": {"class": "num"}})
    free = tables.Column("Free", attrs={"th": {"class": "num"}})
    weighed = tables.Column("Last weighed")
    state = tables.Column("State", orderable=False)

    class Meta:
        order_by = ("code",)
