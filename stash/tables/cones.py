"""The list of cones: sorted and paged by the database, written out for the rows of one page."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.db.models import Count, F, Sum
from django.utils import timezone
from django.utils.formats import date_format
from django_tables2.data import TableData

from stash.calc.writing import Measures
from stash.models import Cone
from stash.models.cone import USABLE, ConeQuerySet, Form
from stash.services.whole_ends import ends_on

_KEYS: dict[str, Any] = {
    "code": F("search"),
    "shade": F("shade__search"),
    "lot": F("lot__name"),
    "place": F("place__name"),
    "net": F("on_hand_mg"),
    "free": F("on_hand_mg") - F("reserved_mg"),
    "weighed": F("weighed_at"),
}


_COLUMNS = (
    "code",
    "form",
    "core_mg",
    "condition",
    "condition_on",
    "estimated",
    "on_hand_mg",
    "reserved_mg",
    "received_at",
    "weighed_at",
    "retired_at",
    "shade__name",
    "shade__colour",
    "shade__yarn__name",
    "shade__yarn__count_written",
    "shade__yarn__grist_um",
    "shade__yarn__grist_mg",
    "lot__name",
    "place__name",
)


@dataclass(frozen=True, slots=True)
class ConeLine:
    """One row as it is read: all is text with its unit, and "" where there is none."""

    pk: int
    code: str
    form: str
    shade_pk: int
    shade: str
    colour: str
    yarn: str
    lot: str
    place: str
    net: str
    net_length: str
    gross: str
    core: str
    free: str
    free_length: str
    weighed: str
    unweighed: bool
    retired: str
    undercut: str
    all_reserved: bool
    ends: str = ""
    condition: str = ""
    unfit: bool = False


class ConeData(TableData):
    """All cones found, with how many they are and what is on them; a slice of it is one query."""

    def __init__(self, cones: ConeQuerySet, measures: Measures, end_um: int = 0) -> None:
        """`end_um` is the length of the whole ends that are counted on each cone; 0 for none."""
        super().__init__(cones)
        self.measures, self.end_um = measures, end_um
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

    def __getitem__(self, key: slice) -> list[ConeLine]:
        cones = self.data.with_names().only(*_COLUMNS)[key]
        return [write_line(cone, self.measures, self.end_um) for cone in cones]


def write_line(cone: Cone, measures: Measures, end_um: int = 0) -> ConeLine:
    """A row in words. They are put together here and not by filters: a page has four hundred figures."""
    shade, yarn, free_mg, undercut_mg = cone.shade, cone.shade.yarn, cone.free_mg, cone.undercut_mg

    def length(mg: int) -> str:
        # What is there is never said to be more than it is.
        return measures.long_length(yarn.grist.length_um_of(mg), "down")

    about = "about " if cone.estimated else ""
    return ConeLine(
        pk=cone.pk,
        code=cone.code,
        form="" if cone.form == Form.CONE else cone.form,
        shade_pk=shade.pk,
        shade=shade.name,
        colour=shade.colour,
        yarn=yarn.count_written or yarn.name,
        lot=cone.lot.name if cone.lot else "",
        place=cone.place.name if cone.place else "",
        net=f"{about}{measures.mass(cone.on_hand_mg)}",
        net_length=f"{about}{length(cone.on_hand_mg)}",
        gross="" if cone.gross_mg is None else f"{about}{measures.mass(cone.gross_mg)}",
        core="" if cone.core_mg is None else measures.mass(cone.core_mg),
        free=f"{about}{measures.mass(free_mg)}" if free_mg else measures.mass(free_mg),
        free_length=f"{about}{length(free_mg)}" if free_mg else length(free_mg),
        weighed=_day(cone.received_at if cone.is_unweighed else cone.weighed_at),
        unweighed=cone.is_unweighed,
        retired=_day(cone.retired_at),
        undercut=measures.mass(undercut_mg) if undercut_mg else "",
        all_reserved=bool(cone.reserved_mg and not free_mg),
        condition=cone.condition_words,
        unfit=cone.condition not in USABLE,
        ends=f"{ends_on(free_mg, yarn.grist_um, yarn.grist_mg, end_um):,}" if end_um else "",
    )


def _day(at: datetime | None) -> str:
    return date_format(timezone.localtime(at), "j M Y") if at else ""


class ConeTable(tables.Table):
    """Headings and orders of the list by cone; its template writes the cells."""

    code = tables.Column("Cone")
    shade = tables.Column("Shade")
    lot = tables.Column("Lot")
    place = tables.Column("Place")
    net = tables.Column("Net", attrs={"th": {"class": "num"}})
    gross = tables.Column("With core", orderable=False, attrs={"th": {"class": "num"}})
    free = tables.Column("Free", attrs={"th": {"class": "num"}})
    ends = tables.Column("Whole ends", orderable=False, attrs={"th": {"class": "num"}})
    weighed = tables.Column("Last weighed")
    state = tables.Column("State", orderable=False)

    class Meta:
        order_by = ("code",)

    def __init__(self, data: ConeData) -> None:
        super().__init__(data, exclude=[] if data.end_um else ["ends"])
