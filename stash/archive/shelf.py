"""The tables of the shelf, in the order in which they refer to each other.

A new field of a model belongs here and into `schema.md`; a test compares all three. What is left out: passwords, the
codes by which phones sign in once, the addresses at which calendars read, and search columns.
"""

from collections import defaultdict
from collections.abc import Iterator

from django.contrib.auth.hashers import make_password

from stash.archive.table import Table
from stash.calc.errors import CalcError
from stash.models import (
    Board,
    Claim,
    ColumnReading,
    Cone,
    CoreKind,
    Count,
    CountKey,
    Delivery,
    Entry,
    FibreShare,
    Loom,
    Lot,
    Order,
    OrderLine,
    Person,
    Photo,
    Place,
    PriceBreak,
    PutUp,
    Reed,
    Reservation,
    SavedView,
    Shade,
    ShaftHeddles,
    Shortage,
    Stocktake,
    Studio,
    Supplier,
    Tool,
    Yarn,
)
from stash.models.folding import fold


def _nothing() -> None:
    return None


def _no_password() -> str:
    return make_password(None)


def _yarn_search(using: str) -> Iterator[tuple[int, str]]:
    fibres: dict[int, list[str]] = defaultdict(list)
    for yarn_id, fibre in FibreShare.objects.using(using).order_by("pk").values_list("yarn_id", "fibre"):
        fibres[yarn_id].append(fibre)
    for pk, name, count in (
        Yarn.objects.using(using).order_by("pk").values_list("pk", "name", "count_written")
    ):
        yield pk, fold(name, count, *fibres[pk])


def _unfit_yarns(using: str) -> Iterator[str]:
    for yarn in Yarn.objects.using(using).order_by("pk"):
        try:
            _ = yarn.count, yarn.grist
        except CalcError as error:
            yield f"Yarn {yarn.name}: {error.message}"


def _shade_search(using: str) -> Iterator[tuple[int, str]]:
    for pk, name in Shade.objects.using(using).order_by("pk").values_list("pk", "name"):
        yield pk, fold(name)


def _cone_search(using: str) -> Iterator[tuple[int, str]]:
    for cone in Cone.objects.using(using).select_related("lot", "place").order_by("pk").iterator(2000):
        yield cone.pk, cone.search_words()


_EQUIPMENT = ("name", "place", "lent_to", "back_on", "note", "version", "retired_at")

_TERMS = (
    "lead_days",
    "late_days",
    "minimum_cents",
    "carriage_cents",
    "carriage_free_cents",
    "currency",
    "version",
    "retired_at",
)
"""What is known of a supplier since version 3."""

TABLES = (
    Table(
        "studio",
        Studio,
        [
            "name",
            "measuring",
            "spelling",
            "label_address",
            "currency",
            "division_mg",
            "order_cost_cents",
            "holding_ppm",
            "sure_ppm",
            "quarantine_days",
            "is_demo",
            "version",
            "made_at",
        ],
        newer={
            "division_mg": 2,
            **dict.fromkeys(("order_cost_cents", "holding_ppm", "sure_ppm", "quarantine_days"), 3),
        },
    ),
    Table(
        "people",
        Person,
        ["username", "name", "role", "is_active", "version"],
        left_out={"password": _no_password, "last_login": _nothing},
    ),
    Table(
        "yarns",
        Yarn,
        [
            "name",
            "count_system",
            "count_numerator",
            "count_denominator",
            "count_ply",
            "count_written",
            "measured_um",
            "measured_mg",
            "stated_um",
            "stated_mg",
            "grist_choice",
            "grist_source",
            "grist_um",
            "grist_mg",
            "note",
            "version",
            "retired_at",
        ],
        left_out={"search": str, "note_folded": str},
        searched=_yarn_search,
        unfit=_unfit_yarns,
    ),
    Table("fibres", FibreShare, ["yarn", "fibre", "percent"]),
    Table(
        "shades",
        Shade,
        ["yarn", "name", "colour", "keep_mg", "no_more_on", "one_more", "note", "version", "retired_at"],
        newer={"no_more_on": 3, "one_more": 3},
        left_out={"search": str, "note_folded": str},
        searched=_shade_search,
    ),
    Table("lots", Lot, ["shade", "name"]),
    Table("places", Place, ["name"]),
    Table("core_kinds", CoreKind, ["name", "mass_mg", "version"]),
    Table(
        "suppliers",
        Supplier,
        ["name", "note", *_TERMS],
        newer=dict.fromkeys(_TERMS, 3),
    ),
    Table(
        "put_ups",
        PutUp,
        ["supplier", "yarn", "shade", "form", "mass_mg", "price_cents", "least", "version", "retired_at"],
        since=3,
    ),
    Table("price_breaks", PriceBreak, ["put_up", "number", "price_cents"], since=3),
    Table(
        "orders",
        Order,
        [
            "supplier",
            "ordered_on",
            "due_on",
            "late_days",
            "reference",
            "note",
            "currency",
            "carriage_cents",
            "by",
            "made_at",
            "closed_at",
            "version",
        ],
        since=3,
    ),
    Table(
        "order_lines",
        OrderLine,
        [
            "order",
            "shade",
            "put_up",
            "form",
            "mass_mg",
            "number",
            "price_cents",
            "lot_wish",
            "lot",
            "need_on",
            "reason",
            "came",
            "cancelled",
        ],
        since=3,
    ),
    Table(
        "deliveries",
        Delivery,
        ["supplier", "order", "received_on", "expected_cones", "note", "closed_at", "made_at"],
        newer={"order": 3},
    ),
    Table("claims", Claim, ["name", "need_on", "rank", "made_at"]),
    Table(
        "cones",
        Cone,
        [
            "code",
            "shade",
            "lot",
            "form",
            "core_mg",
            "core_kind",
            "place",
            "condition",
            "condition_on",
            "labelled_mg",
            "price_cents",
            "delivery",
            "order_line",
            "on_hand_mg",
            "reserved_mg",
            "note",
            "received_at",
            "weighed_at",
            "estimated",
            "version",
            "retired_at",
        ],
        newer={"order_line": 3},
        left_out={"search": str, "note_folded": str},
        searched=_cone_search,
    ),
    Table(
        "entries",
        Entry,
        [
            "cone",
            "kind",
            "change_mg",
            "after_mg",
            "gross_mg",
            "core_mg",
            "reason",
            "by",
            "at",
            "claim",
            "undoes",
            "partner",
            "is_estimate",
            "key",
        ],
    ),
    Table("reservations", Reservation, ["claim", "cone", "use", "ends", "length_um", "mass_mg", "made_at"]),
    Table("shortages", Shortage, ["claim", "shade", "ends", "length_um", "mass_mg", "made_at"]),
    Table("stocktakes", Stocktake, ["place", "began_at", "closed_at", "by", "closed_by", "note"]),
    Table(
        "counts",
        Count,
        [
            "stocktake",
            "cone",
            "finding",
            "books_mg",
            "scale_mg",
            "is_gross",
            "net_mg",
            "is_estimate",
            "note",
            "counted_at",
            "by",
            "reason",
            "settled_at",
            "settled_by",
            "entry",
        ],
    ),
    Table("count_keys", CountKey, ["key", "count"]),
    Table("photos", Photo, ["shade", "cone", "file", "width", "height", "made_at"], photos=True),
    Table("saved_views", SavedView, ["person", "name", "query"]),
    Table("column_readings", ColumnReading, ["headings", "reading", "used_at"]),
    Table(
        "looms",
        Loom,
        [
            *_EQUIPMENT,
            "weaving_width_um",
            "shafts",
            "reed_height_um",
            "waste_um",
            "waste_laced_um",
            "waste_tied_on_um",
            "longest_warp_um",
            "busy_with",
            "busy_until",
            "left_um",
            "left_ends",
            "left_of",
        ],
        since=2,
    ),
    Table("shaft_heddles", ShaftHeddles, ["loom", "shaft", "number"], since=2),
    Table(
        "reeds",
        Reed,
        [
            *_EQUIPMENT,
            "dents_numerator",
            "dents_denominator",
            "dents_per_um",
            "length_um",
            "height_um",
        ],
        since=2,
    ),
    Table("boards", Board, [*_EQUIPMENT, "kind", "step_um", "longest_um", "most_ends"], since=2),
    Table("tools", Tool, [*_EQUIPMENT, "kind", "number", "holds_mg", "narrowest_um", "widest_um"], since=2),
)
