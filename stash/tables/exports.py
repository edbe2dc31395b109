"""The shelf's tables to take away. The list of cones is one that the import reads back."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from stash.calc.grist import Grist
from stash.calc.quantity import UNIT_OF_WORD
from stash.calc.writing import Measures
from stash.models import Cone, Entry, FibreShare, Reservation, Shade, Studio, Yarn
from stash.spreadsheets.writing import Cell, figure

# Rows of the database in memory at a time.
A_ROUND = 2_000


@dataclass(frozen=True, slots=True)
class Units:
    """The studio's units, as numbers are written in its tables.

    A milligram needs three decimals of a gram, six of an ounce: so read back, it is the same.
    """

    measures: Measures
    currency: str

    @property
    def mass(self) -> str:
        return self.measures.mass_unit

    @property
    def length(self) -> str:
        return self.measures.long_unit

    @property
    def grist(self) -> str:
        return self.measures.grist_unit

    def of_mass(self, mg: int | None) -> Decimal | None:
        if mg is None:
            return None
        return figure(Fraction(mg) / UNIT_OF_WORD[self.mass].size, 3 if self.mass == "g" else 6)

    def of_length(self, um: int | Fraction) -> Decimal:
        return figure(Fraction(um) / UNIT_OF_WORD[self.length].size, 2)

    def of_price(self, cents: int | None) -> Decimal | None:
        return None if cents is None else figure(Fraction(cents, 100), 2)

    def of_grist(self, length_um: int | None, mass_mg: int | None) -> Decimal | str | None:
        """A number where the studio's unit writes it exactly, else text that reads back to the same."""
        if not length_um or not mass_mg:
            return None
        text = self.measures.field_grist(Grist(length_um, mass_mg))
        return Decimal(text) if text.replace(".", "", 1).isdecimal() else text


def local(moment: datetime | None) -> datetime | None:
    """The studio's own time, without the zone that no spreadsheet keeps."""
    return moment and timezone.localtime(moment).replace(tzinfo=None, microsecond=0)


@dataclass(frozen=True, slots=True)
class ExportTable:
    """One table: its key in the address, what it holds in words, its headings and its rows."""

    key: str
    title: str
    words: str
    headings: Callable[[Units], Sequence[str]]
    rows: Callable[[Units], Iterator[Sequence[Cell]]]


def units_of(studio: Studio, measures: Measures) -> Units:
    return Units(measures, studio.currency)


def in_rounds(queryset: QuerySet) -> Iterator:
    """All rows, so many in memory at a time, each round with what it fetches beforehand."""
    return queryset.iterator(chunk_size=A_ROUND)


def _fibres() -> Prefetch:
    return Prefetch("shade__yarn__fibres", FibreShare.objects.all())


def _content(yarn: Yarn) -> str:
    return ", ".join(
        share.fibre if share.percent == 100 else f"{share.percent} % {share.fibre}"
        for share in yarn.fibres.all()
    )


def _system(yarn: Yarn) -> str:
    return yarn.get_count_system_display() if yarn.count_system else ""


# --- Cones: every heading up to the note is one by which the import knows the column again -----------------
def _cone_headings(units: Units) -> list[str]:
    return [
        "code",
        "yarn",
        "count",
        "count system",
        "fibre content",
        f"length per weight, stated ({units.grist})",
        f"length per weight, measured ({units.grist})",
        "shade",
        "shade colour",
        "dye lot",
        "form",
        f"net ({units.mass})",
        f"core ({units.mass})",
        "estimate",
        f"label weight ({units.mass})",
        "place",
        "condition",
        f"price ({units.currency})",
        "supplier",
        "received",
        "note",
        "kind of core",
        f"reserved ({units.mass})",
        f"free ({units.mass})",
        f"length free ({units.length})",
        "last weighed",
        "retired",
        "of order",
    ]


def _cone_rows(units: Units) -> Iterator[Sequence[Cell]]:
    cones = Cone.objects.select_related(
        "shade__yarn", "lot", "place", "core_kind", "delivery__supplier", "order_line"
    ).prefetch_related(_fibres())
    for cone in in_rounds(cones.order_by("pk")):
        shade, yarn = cone.shade, cone.shade.yarn
        yield [
            cone.code,
            yarn.name,
            yarn.count_written,
            _system(yarn),
            _content(yarn),
            units.of_grist(yarn.stated_um, yarn.stated_mg),
            units.of_grist(yarn.measured_um, yarn.measured_mg),
            shade.name,
            shade.colour,
            cone.lot.name if cone.lot else "",
            cone.get_form_display(),
            units.of_mass(cone.on_hand_mg),
            units.of_mass(cone.core_mg),
            "yes" if cone.estimated else "",
            units.of_mass(cone.labelled_mg),
            cone.place.name if cone.place else "",
            cone.get_condition_display(),
            units.of_price(cone.price_cents),
            cone.delivery.supplier.name if cone.delivery and cone.delivery.supplier else "",
            timezone.localdate(cone.received_at),
            cone.note,
            cone.core_kind.name if cone.core_kind else "",
            units.of_mass(cone.reserved_mg),
            units.of_mass(cone.free_mg),
            units.of_length(yarn.grist.length_um_of(cone.free_mg)),
            local(cone.weighed_at),
            local(cone.retired_at),
            cone.order_line.order_id if cone.order_line else None,
        ]


# --- Shades, yarns ---------------------------------------------------------------------------------------
def _shade_headings(units: Units) -> list[str]:
    return [
        "yarn",
        "shade",
        "shade colour",
        f"on hand ({units.mass})",
        f"reserved ({units.mass})",
        f"free ({units.mass})",
        f"length free ({units.length})",
        f"on order ({units.mass})",
        f"keep level ({units.mass})",
        "one put-up more",
        "no more made since",
        "cones",
        "lots",
        "cones of unknown lot",
        "note",
        "retired",
    ]


def _shade_rows(units: Units) -> Iterator[Sequence[Cell]]:
    for shade in in_rounds(Shade.objects.with_stock().select_related("yarn").order_by("pk")):
        yield [
            shade.yarn.name,
            shade.name,
            shade.colour,
            units.of_mass(shade.on_hand_mg),
            units.of_mass(shade.reserved_mg),
            units.of_mass(shade.free_mg),
            units.of_length(shade.yarn.grist.length_um_of(shade.free_mg)),
            units.of_mass(shade.on_order_mg),
            units.of_mass(shade.keep_mg),
            "yes" if shade.one_more else "",
            shade.no_more_on,
            shade.cone_count,
            shade.lot_count,
            shade.unknown_count,
            shade.note,
            local(shade.retired_at),
        ]


def _yarn_headings(units: Units) -> list[str]:
    return [
        "yarn",
        "count",
        "count system",
        "fibre content",
        f"length per weight in use ({units.grist})",
        "it is",
        f"length per weight, stated ({units.grist})",
        f"length per weight, measured ({units.grist})",
        "shades",
        f"on hand ({units.mass})",
        "note",
        "retired",
    ]


def _yarn_rows(units: Units) -> Iterator[Sequence[Cell]]:
    fibres = Prefetch("fibres", FibreShare.objects.all())
    for yarn in in_rounds(Yarn.objects.with_stock().prefetch_related(fibres).order_by("pk")):
        yield [
            yarn.name,
            yarn.count_written,
            _system(yarn),
            _content(yarn),
            units.of_grist(yarn.grist_um, yarn.grist_mg),
            yarn.get_grist_source_display(),
            units.of_grist(yarn.stated_um, yarn.stated_mg),
            units.of_grist(yarn.measured_um, yarn.measured_mg),
            yarn.shade_count,
            units.of_mass(yarn.on_hand_mg),
            yarn.note,
            local(yarn.retired_at),
        ]


# --- Ledger, reservations ----------------------------------------------------------------------------------
def _ledger_headings(units: Units) -> list[str]:
    return [
        "entry",
        "when",
        "cone",
        "yarn",
        "shade",
        "what",
        f"added ({units.mass})",
        f"taken ({units.mass})",
        f"left ({units.mass})",
        f"on the scale ({units.mass})",
        f"core ({units.mass})",
        "estimate",
        "reason",
        "for",
        "takes back entry",
        "by",
    ]


def _ledger_rows(units: Units) -> Iterator[Sequence[Cell]]:
    """In the order in which they were written. What was added and taken stand apart: no figure has a sign."""
    entries = Entry.objects.select_related("cone__shade__yarn", "claim", "by").order_by("pk")
    for entry in in_rounds(entries):
        shade = entry.cone.shade
        yield [
            entry.pk,
            local(entry.at),
            entry.cone.code,
            shade.yarn.name,
            shade.name,
            entry.get_kind_display(),
            units.of_mass(entry.change_mg) if entry.change_mg >= 0 else None,
            units.of_mass(-entry.change_mg) if entry.change_mg < 0 else None,
            units.of_mass(entry.after_mg),
            units.of_mass(entry.gross_mg),
            units.of_mass(entry.core_mg),
            "yes" if entry.is_estimate else "",
            entry.reason,
            entry.claim.name if entry.claim else "",
            entry.undoes_id,
            str(entry.by),
        ]


def _reservation_headings(units: Units) -> list[str]:
    return [
        "for",
        "needed on",
        "rank",
        "cone",
        "yarn",
        "shade",
        "dye lot",
        "use",
        "ends",
        f"length ({units.length})",
        f"weight ({units.mass})",
        "reserved on",
    ]


def _reservation_rows(units: Units) -> Iterator[Sequence[Cell]]:
    held = Reservation.objects.select_related("claim", "cone__shade__yarn", "cone__lot").order_by("pk")
    for line in in_rounds(held):
        cone = line.cone
        yield [
            line.claim.name,
            line.claim.need_on,
            line.claim.rank,
            cone.code,
            cone.shade.yarn.name,
            cone.shade.name,
            cone.lot.name if cone.lot else "",
            line.use,
            line.ends or None,
            units.of_length(line.length_um),
            units.of_mass(line.mass_mg),
            local(line.made_at),
        ]


SHELF_TABLES = (
    ExportTable(
        "cones",
        "Cones",
        "every cone, also retired ones; it can be brought in again",
        _cone_headings,
        _cone_rows,
    ),
    ExportTable(
        "shades", "Shades", "every shade with its stock and keep level", _shade_headings, _shade_rows
    ),
    ExportTable(
        "yarns", "Yarns", "every kind of yarn with its count and content", _yarn_headings, _yarn_rows
    ),
    ExportTable("ledger", "Ledger", "every entry, oldest first", _ledger_headings, _ledger_rows),
    ExportTable(
        "reservations",
        "Reservations",
        "what is put aside, for whom",
        _reservation_headings,
        _reservation_rows,
    ),
)
