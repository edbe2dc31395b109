"""The list of shades: sorted and paged on the sums of all, written out for the rows of one page."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import Any, NamedTuple

import django_tables2 as tables
from django_tables2.data import TableData

from stash.calc.colour import apart, in_words
from stash.calc.grist import Grist
from stash.calc.writing import Measures
from stash.models import Shade
from stash.models.yarn import ShadeQuerySet
from stash.tables.scale import shared_scale

LOTS_SAID = 2


class Sums(NamedTuple):
    """What is known of every shade found: enough to sort, to page and to find the scale."""

    pk: int
    search: str
    grist_um: int
    grist_mg: int
    keep_mg: int | None
    on_hand_mg: int
    reserved_mg: int
    free_mg: int
    undercut_mg: int
    cone_count: int
    lot_count: int
    unknown_count: int
    on_order_mg: int = 0

    def um(self, mg: int) -> int:
        """Length of so many mg, whole um downwards."""
        return mg * self.grist_um // self.grist_mg

    @property
    def span_um(self) -> int:
        """How far this shade's bar reaches."""
        return self.um(max(self.on_hand_mg + self.on_order_mg, self.reserved_mg, self.keep_mg or 0))


_COLUMNS = ("pk", "search", "yarn__grist_um", "yarn__grist_mg", "keep_mg", *Sums._fields[5:])

_KEYS: dict[str, Any] = {
    "shade": lambda row: row.search,
    "free": lambda row: row.um(row.free_mg),
    "on_hand": lambda row: row.um(row.on_hand_mg),
    "reserved": lambda row: row.um(row.reserved_mg),
    "lots": lambda row: (row.lot_count, row.unknown_count),
}


@dataclass(frozen=True, slots=True)
class Sought:
    """What is asked of a shade beside its stock: how near it is to a colour, how many whole ends it gives.

    `colour` is #rrggbb or "" where none is asked for; `ends` has the whole ends of each lot by the shade's key, the
    most first, None where no length is asked for.
    """

    colour: str = ""
    ends: Mapping[int, list[tuple[int, str]]] | None = None


@dataclass(frozen=True, slots=True)
class ShadeLine:
    """One row as it is read. Amounts for the bar are in um; all else is text with its unit."""

    pk: int
    name: str
    colour: str
    yarn: str
    retired: bool
    free: str
    free_mass: str
    on_hand: str
    on_hand_mass: str
    reserved: str
    reserved_mass: str
    bar_free: int
    bar_reserved: int
    bar_on_order: int
    bar_keep: int
    scale: int
    label: str
    lots: str
    state: str
    flag: str
    on_order: str = ""
    """Length and mass of what is ordered and has not come, "" where nothing is."""
    near: str = ""
    ends: str = ""
    no_more: bool = False
    """Is it no more made?"""


class ShadeData(TableData):
    """All shades found (a queryset with their stock) as `Sums`; a slice of it is `ShadeLine`s, by one query."""

    def __init__(self, shades: ShadeQuerySet, measures: Measures, sought: Sought | None = None) -> None:
        rows = map(Sums._make, shades.order_by("search", "pk").values_list(*_COLUMNS))
        self.sought = sought or Sought()
        ends = self.sought.ends
        super().__init__([row for row in rows if ends is None or row.pk in ends])
        self.measures = measures
        self.scale_um = shared_scale(max((row.span_um for row in self.data), default=0), measures)

    @property
    def cone_count(self) -> int:
        return sum(row.cone_count for row in self.data)

    @property
    def lot_count(self) -> int:
        return sum(row.lot_count for row in self.data)

    def __len__(self) -> int:
        return len(self.data)

    def order_by(self, aliases: Any) -> None:
        for alias in reversed(aliases):
            if alias.bare == "near":
                self._order_by_colour(alias.is_descending)
            else:
                key = self._ends_of if alias.bare == "ends" else _KEYS[alias.bare]
                self.data.sort(key=key, reverse=alias.is_descending)

    def _ends_of(self, row: Sums) -> int:
        """A warp comes from one lot where it can: the best lot counts before the whole."""
        return self.sought.ends[row.pk][0][0] if self.sought.ends else 0

    def _order_by_colour(self, farthest_first: bool) -> None:
        """By the difference to the colour sought; shades without a colour come last either way."""
        colour = self.sought.colour
        if not colour:
            return
        pks = [row.pk for row in self.data]
        known = dict(Shade.objects.exclude(colour="").values_list("pk", "colour"))
        gaps = {pk: apart(colour, known[pk]) for pk in pks if pk in known}
        sign, last = (-1, 1.0) if farthest_first else (1, inf)
        self.data.sort(key=lambda row: sign * gaps[row.pk] if row.pk in gaps else last)

    def __getitem__(self, key: slice) -> list[ShadeLine]:
        return list(self._lines(self.data[key]))

    def _lines(self, page: list[Sums]) -> Iterator[ShadeLine]:
        named = {
            pk: names
            for pk, *names in Shade.objects.filter(pk__in=[row.pk for row in page]).values_list(
                "pk", "name", "colour", "yarn__name", "yarn__count_written", "retired_at", "no_more_on"
            )
        }
        for row in page:
            if row.pk in named:
                *names, no_more_on = named[row.pk]
                line = write_line(row, names, self.measures, self.scale_um)
                yield replace(
                    line,
                    near=near_in_words(self.sought.colour, line.colour),
                    ends=ends_in_words(self.sought.ends[row.pk]) if self.sought.ends else "",
                    no_more=no_more_on is not None,
                )


def near_in_words(sought: str, colour: str) -> str:
    """very near, 2.1; "" where no colour is sought."""
    if not sought:
        return ""
    if not colour:
        return "colour not known"
    gap = apart(sought, colour)
    return f"{in_words(gap)}, {gap:.1f}"


def ends_in_words(lots: list[tuple[int, str]]) -> str:
    """36 in lot A17, 12 in unknown lot: the best few lots, the rest as one figure."""
    said = [f"{ends:,} in {f'lot {lot}' if lot else 'unknown lot'}" for ends, lot in lots[:LOTS_SAID]]
    if rest := lots[LOTS_SAID:]:
        said.append(f"{sum(ends for ends, _ in rest):,} in {len(rest)} more")
    return ", ".join(said)


def write_line(row: Sums, names: list[Any], measures: Measures, scale_um: int) -> ShadeLine:
    """A row in words, with its bar."""
    name, colour, yarn_name, count_written, retired_at = names
    grist = Grist(row.grist_um, row.grist_mg)

    def length(mg: int) -> str:
        # What is there is never said to be more than it is.
        return measures.long_length(grist.length_um_of(mg), "down")

    free, reserved = length(row.free_mg), length(row.reserved_mg)
    label = f"free {free}, reserved {reserved}"
    on_order = ""
    if row.on_order_mg:
        on_order = f"{length(row.on_order_mg)} ({measures.mass(row.on_order_mg)})"
        label += f", on order {length(row.on_order_mg)}"
    if row.keep_mg:
        label += f", keep level {length(row.keep_mg)}"
    undercut = measures.long_length(grist.length_um_of(row.undercut_mg), "up")
    if row.undercut_mg:
        label += f", undercut by {undercut}"
    # The bar shows an overhang only where nothing is free; else what is promised and not there stands in the flag.
    there = row.reserved_mg if not row.free_mg else row.reserved_mg - row.undercut_mg
    state, flag = flag_of(row, undercut)
    return ShadeLine(
        pk=row.pk,
        name=name,
        colour=colour,
        yarn=count_written or yarn_name,
        retired=retired_at is not None,
        free=free,
        free_mass=measures.mass(row.free_mg),
        on_hand=length(row.on_hand_mg),
        on_hand_mass=measures.mass(row.on_hand_mg),
        reserved=reserved,
        reserved_mass=measures.mass(row.reserved_mg),
        bar_free=row.um(row.free_mg) if row.free_mg else -row.um(row.undercut_mg),
        bar_reserved=row.um(there),
        bar_on_order=row.um(row.on_order_mg),
        bar_keep=row.um(row.keep_mg or 0),
        scale=scale_um,
        label=label,
        lots=lots_in_words(row.lot_count, row.unknown_count),
        state=state,
        flag=flag,
        on_order=on_order,
    )


def lots_in_words(lots: int, unknown: int) -> str:
    """2 lots; unknown lot; 2 lots and 1 unknown. `unknown` counts cones, since unknown lots match nothing."""
    known = f"{lots} lot{'' if lots == 1 else 's'}"
    if not unknown:
        return known if lots else "no cone"
    if lots:
        return f"{known} and {unknown} unknown"
    return "unknown lot" if unknown == 1 else f"{unknown} unknown lots"


def flag_of(row: Sums, undercut: str) -> tuple[str, str]:
    """What to say of a shade beside its figures: the state (short, tight or nothing) and the words."""
    said = []
    if row.undercut_mg:
        # The figure is not torn from its unit at the end of a line.
        said.append("undercut by " + undercut.replace(" ", "\u00a0"))
    elif row.on_hand_mg and not row.free_mg:
        said.append("all reserved")
    # What is on order counts: it asks for no second one.
    if row.keep_mg is not None and row.free_mg + row.on_order_mg <= row.keep_mg:
        said.append("at keep level" if row.free_mg == row.keep_mg else "below keep level")
    words = ", ".join(said)
    state = "short" if row.undercut_mg else "tight" if words else ""
    return state, words[:1].upper() + words[1:]


class ShadeTable(tables.Table):
    """Headings and orders of the list by shade; its template writes the cells.

    A colour or whole ends have a column where they are sought, and the list is in the order of what was sought.
    """

    shade = tables.Column("Shade")
    near = tables.Column("Colour")
    ends = tables.Column("Whole ends", attrs={"th": {"class": "text"}})
    free = tables.Column("Free", attrs={"th": {"class": "num"}})
    on_hand = tables.Column("On hand", attrs={"th": {"class": "num"}})
    reserved = tables.Column("Reserved", attrs={"th": {"class": "num"}})
    stock = tables.Column("Stock", orderable=False, attrs={"th": {"class": "wide"}})
    lots = tables.Column("Lots")
    state = tables.Column("State", orderable=False)

    class Meta:
        order_by = ("shade",)

    def __init__(self, data: ShadeData) -> None:
        sought = {"near": bool(data.sought.colour), "ends": data.sought.ends is not None}
        first = next(
            (f"-{name}" if name == "ends" else name for name, is_so in sought.items() if is_so), "shade"
        )
        super().__init__(
            data, exclude=[name for name, is_so in sought.items() if not is_so], order_by=(first,)
        )
