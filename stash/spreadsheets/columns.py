"""What the columns of a spreadsheet mean: guessed from their headings, decided by a person.

Only words of the trade and plain English are known. A guess is offered, never taken for granted: where a
heading can mean two things (a weight with or without its core, `gr`), the guess is a question.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from enum import StrEnum
from hashlib import sha256
from typing import Any

from stash.calc.counts import CountSystem
from stash.spreadsheets.sheet import Row, Sheet, SheetError, letter

# Above the headings there may stand a title and a date.
HEADINGS_WITHIN = 15
SAMPLES = 3
# Yarn, shade and weight: fewer columns make no list of cones.
FEWEST_WORDS = 3


class Role(StrEnum):
    """What a column may be taken for; the value is what is remembered."""

    NOTHING = ""
    CODE = "code"
    YARN = "yarn"
    COUNT = "count"
    SYSTEM = "system"
    FIBRE = "fibre"
    STATED = "stated"
    MEASURED = "measured"
    SHADE = "shade"
    COLOUR = "colour"
    LOT = "lot"
    FORM = "form"
    WEIGHT = "weight"
    NET = "net"
    GROSS = "gross"
    CORE = "core"
    LABELLED = "labelled"
    ESTIMATE = "estimate"
    PLACE = "place"
    CONDITION = "condition"
    PRICE = "price"
    SUPPLIER = "supplier"
    RECEIVED = "received"
    PACKAGES = "packages"
    NOTE = "note"

    @property
    def label(self) -> str:
        return _LABELS[self]

    @property
    def kind(self) -> str:
        """Which units its figures may have: "mass", "grist", "price" or "" for none."""
        return _KINDS.get(self, "")


_LABELS = {
    Role.NOTHING: "not used",
    Role.CODE: "code on the cone",
    Role.YARN: "yarn (its name)",
    Role.COUNT: "count (8/2, Nm 2/28)",
    Role.SYSTEM: "count system",
    Role.FIBRE: "fibre content",
    Role.STATED: "length per weight, as stated",
    Role.MEASURED: "length per weight, measured here",
    Role.SHADE: "shade",
    Role.COLOUR: "colour for the screen (#2f5d50)",
    Role.LOT: "dye lot",
    Role.FORM: "form (cone, skein)",
    Role.WEIGHT: "weight: say of what",
    Role.NET: "weight of the yarn alone",
    Role.GROSS: "weight of yarn and core together",
    Role.CORE: "weight of the empty core",
    Role.LABELLED: "weight on its label",
    Role.ESTIMATE: "whether the weight is an estimate (yes, no)",
    Role.PLACE: "place",
    Role.CONDITION: "condition",
    Role.PRICE: "price",
    Role.SUPPLIER: "supplier",
    Role.RECEIVED: "day it came",
    Role.PACKAGES: "number of cones in the row",
    Role.NOTE: "note",
}
MASSES = frozenset({Role.WEIGHT, Role.NET, Role.GROSS, Role.CORE, Role.LABELLED})
_KINDS = {
    **dict.fromkeys(MASSES, "mass"),
    Role.STATED: "grist",
    Role.MEASURED: "grist",
    Role.PRICE: "price",
}
# Several columns of words are kept, one behind the other; of everything else there is one column.
REPEATABLE = frozenset({Role.NOTHING, Role.NOTE})

ASK = "?"
UNITS: dict[str, tuple[str, ...]] = {
    "mass": ("g", "kg", "oz", "lb", "grain"),
    "grist": ("yd/lb", "yd/oz", "m/kg", "m/100 g", "m/50 g"),
    "price": ("cone", "row", "kg", "100 g", "lb", "oz"),
}


@dataclass(frozen=True, slots=True)
class Column:
    """What one column is taken for. `unit` "" is the studio's own, or what each cell says."""

    role: Role
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Reading:
    """How a whole spreadsheet is read: its columns, and the answers that hold for all rows.

    `days` is "day" or "month", whichever stands first in 3/4/2024; `commas` is "decimal" or "thousands" for
    1,250; "" for each while nothing asks. `system` is that of counts which name none, `core_mg` the core of
    rows that name none. `several` says of rows that stand for several cones whether their weights are "each" one's or
    of all "together". `alike` says whether rows that are the same in all things are each a cone ("each") or
    one written twice ("once"). `left_out` are row numbers.
    """

    columns: tuple[Column, ...]
    days: str = ""
    commas: str = ""
    system: str = ""
    core_mg: int | None = None
    alike: str = ""
    left_out: frozenset[int] = frozenset()
    several: str = ""

    def column_of(self, role: Role) -> int | None:
        return next((at for at, column in enumerate(self.columns) if column.role is role), None)

    def as_data(self) -> dict[str, Any]:
        return {
            "columns": [[column.role.value, column.unit] for column in self.columns],
            "days": self.days,
            "commas": self.commas,
            "system": self.system,
            "core_mg": self.core_mg,
            "alike": self.alike,
            "left_out": sorted(self.left_out),
            "several": self.several,
        }

    @classmethod
    def from_data(cls, data: dict[str, Any]) -> Reading:
        return cls(
            tuple(Column(Role(role), unit) for role, unit in data["columns"]),
            data["days"],
            data["commas"],
            data["system"],
            data["core_mg"],
            data["alike"],
            frozenset(data["left_out"]),
            # What was remembered before rows could stand for several cones says nothing of them.
            data.get("several", ""),
        )

    def for_next_time(self) -> Reading:
        """Without what was said of this one file's rows."""
        return replace(self, alike="", left_out=frozenset())


@dataclass(frozen=True, slots=True)
class Table:
    """A sheet with its headings found. Columns without a heading have their letter."""

    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    heading_row: int
    above: int

    def name(self, column: int) -> str:
        """A column as it is named to people: its heading and the letter it stands under."""
        heading = self.headings[column]
        return f"{heading} (column {letter(column)})" if heading else f"Column {letter(column)}"

    def samples(self, column: int) -> list[str]:
        """Its first different values."""
        found: list[str] = []
        for row in self.rows:
            text = str(row[column])
            if text and text not in found:
                found.append(text)
                if len(found) == SAMPLES:
                    break
        return found

    @property
    def key(self) -> str:
        """By which the same headings are recognised next time."""
        return sha256("\n".join(map(_folded, self.headings)).encode()).hexdigest()


def table_of(sheet: Sheet) -> Table:
    """Find the headings: the row among the first in which most columns are recognised, or else that of most words.

    Raises SheetError when there is none, nothing below it, or when one heading stands twice.
    """
    among = sheet.rows[:HEADINGS_WITHIN]
    heading = max(among, key=lambda row: (_recognised(row), -row.number))
    if _recognised(heading) < 2:
        # In another language, or in words of the house: then a person says what each column is.
        heading = max(among, key=lambda row: (_words_alone(row), -row.number))
    if _recognised(heading) < 2 and _words_alone(heading) < FEWEST_WORDS:
        raise SheetError(
            "No row of headings was found: among the first rows none has words alone, one over each column, such "
            "as Yarn, Shade and Net (g). Write such a row above the table. Read as first row: "
            + ", ".join(f"“{cell}”" for cell in sheet.rows[0].cells[:6])
            + "."
        )
    rows = tuple(row for row in sheet.rows if row.number > heading.number)
    if not rows:
        raise SheetError(f"Below the headings in row {heading.number} there is no row. Nothing to bring in.")
    headings = tuple(" ".join(str(heading[column]).split()) for column in range(sheet.width))
    seen: dict[str, int] = {}
    for column, text in enumerate(headings):
        if text and (first := seen.setdefault(_folded(text), column)) != column:
            raise SheetError(
                f"The heading “{text}” stands twice, in column {letter(first)} and in column {letter(column)}. "
                "Which one counts? Give each column a heading of its own."
            )
    return Table(headings, rows, heading.number, sum(1 for row in sheet.rows if row.number < heading.number))


def _words_alone(row: Row) -> int:
    """How many cells hold words, in a row where no cell holds a figure: so a heading reads in any language."""
    cells = [cell for cell in row.cells if str(cell).strip()]
    if any(not isinstance(cell, str) or re.search(r"\d", cell) for cell in cells):
        return 0
    return len(cells) if len({_folded(str(cell)) for cell in cells}) == len(cells) else 0


def guess(table: Table) -> Reading:
    """What the headings say. The first column that fits a role best has it."""
    chosen: dict[int, Role] = {}
    ranked = sorted(
        (
            (-score, column, role)
            for column, heading in enumerate(table.headings)
            for role, score in _fits(heading)
        ),
        key=lambda fit: fit[:2],
    )
    taken: set[Role] = set()
    for _, column, role in ranked:
        if column not in chosen and (role in REPEATABLE or role not in taken):
            chosen[column] = role
            taken.add(role)
    if Role.CORE in taken and Role.WEIGHT in taken and not taken & {Role.NET, Role.GROSS}:
        # Beside a column of cores a weight is what the scale says of both.
        chosen = {at: Role.GROSS if role is Role.WEIGHT else role for at, role in chosen.items()}
    elif taken & {Role.NET, Role.GROSS}:
        chosen = {at: role for at, role in chosen.items() if role is not Role.WEIGHT}
    columns = tuple(
        Column(chosen.get(at, Role.NOTHING), unit_in(heading, chosen.get(at, Role.NOTHING)))
        for at, heading in enumerate(table.headings)
    )
    counts = [at for at, role in chosen.items() if role is Role.COUNT]
    return Reading(columns, system=_system_in(table.headings[counts[0]]) if counts else "")


# Whole headings, without what stands in brackets. Longer phrases are surer than single words.
_WORDS: dict[Role, str] = {
    Role.CODE: "code|cone code|cone no|cone number|shelf code|label|id|ref|reference|number on cone|no|nr|tag",
    Role.YARN: "yarn|yarn name|name|kind|kind of yarn|type|yarn type|description|article|quality|material",
    Role.COUNT: "count|yarn count|size|yarn size|number and ply|ply|thickness|ne|nm|tex",
    Role.SYSTEM: "system|count system|counting system|counted in|numbering|numbering system",
    Role.FIBRE: "fibre|fiber|fibres|fibers|fibre content|fiber content|content|composition|made of|blend",
    Role.STATED: (
        "length per weight|length per weight stated|grist|grist stated|yards per pound|yd per lb|yds per lb|ypp"
        "|yards per lb|metres per kilo|metres per kg|meters per kg|m per kg|yardage per pound|put up length"
        "|yards lb|yd lb|m kg|yds lb|m 100 g|m 100g|metres per 100 g|meters per 100 g|run length|yd oz"
    ),
    Role.MEASURED: "length per weight measured|measured grist|grist measured|measured length per weight",
    Role.SHADE: "shade|shade name|colour|color|colour name|color name|colourway|colorway|hue|dye",
    Role.COLOUR: "shade colour|shade color|colour for the screen|color for the screen|hex|screen colour|rgb",
    Role.LOT: "lot|dye lot|dyelot|dye lot no|lot no|lot number|batch|dye batch|dye bath|bath|batch no",
    Role.FORM: "form|package|put up|putup|package form|cone or skein|packaging",
    Role.WEIGHT: (
        "weight|wt|mass|on hand|left|remaining|amount|how much|weight left|current weight|stock|weight now"
        "|grams|ounces|pounds|g|oz|lb|lbs|kg|weight on hand|amount left|in stock|quantity left"
    ),
    Role.NET: (
        "net|net weight|net wt|weight net|yarn weight|weight of yarn|yarn alone|weight without core|net left"
        "|weight without cone|net mass"
    ),
    Role.GROSS: (
        "gross|gross weight|gross wt|weight gross|weight with core|weight with cone|total weight|scale|with core"
        "|scale weight|on the scale|weight incl core|weight including core|weight incl cone|gross mass"
    ),
    Role.CORE: "core|core weight|core wt|tare|empty cone|empty core|tube weight|core mass|weight of core|cone wt",
    Role.LABELLED: "labelled|labeled|label weight|labelled weight|nominal|nominal weight|weight on label",
    Role.ESTIMATE: "estimate|estimated|guess|guessed|is estimate",
    Role.PLACE: "place|shelf|box|where|location|stored|bin|cupboard|drawer|basket|room|rack|kept|storage",
    Role.CONDITION: "condition|state|status",
    Role.PRICE: "price|cost|paid|price paid|value|price each|cost each|unit price|unit cost|purchase price",
    Role.SUPPLIER: "supplier|bought from|from|source|seller|mill|dealer|merchant|maker|purchased from|vendor|shop",
    Role.RECEIVED: (
        "received|bought|date|date bought|bought on|purchased|purchase date|date purchased|received on|day it came"
        "|date received|arrived|year|year bought|date acquired|acquired|bought in|when"
    ),
    Role.PACKAGES: (
        "qty|quantity|how many|cones|number of cones|no of cones|packages|pieces|pcs|units|number of packages"
    ),
    Role.NOTE: "note|notes|remark|remarks|comment|comments|project|used for|info|other|memo|planned for",
}
_ROLE_OF = {phrase: role for role, phrases in _WORDS.items() for phrase in phrases.split("|")}


def _folded(heading: str) -> str:
    return " ".join(heading.casefold().split())


def _plain(heading: str) -> str:
    """A heading without brackets, signs and numbering."""
    without = re.sub(r"\([^)]*\)|\[[^]]*\]|\{[^}]*\}", " ", heading.casefold())
    return " ".join(re.sub(r"[^a-z0-9]+", " ", without).split()) or " ".join(
        re.sub(r"[^a-z0-9]+", " ", heading.casefold()).split()
    )


def _fits(heading: str) -> list[tuple[Role, int]]:
    """Roles that a heading may have, with how sure that is: a whole heading before a part of it, long
    phrases before short ones."""
    plain = _plain(heading)
    if not plain:
        return []
    fits: dict[Role, int] = {}
    if plain in _ROLE_OF:
        fits[_ROLE_OF[plain]] = 1000 + len(plain)
    if _grist_unit(heading):
        fits[Role.STATED] = 900
    # The shortest words (g, no, id) tell something only when they are the whole heading.
    for phrase, role in _ROLE_OF.items():
        if len(phrase) > 2 and re.search(rf"\b{phrase}\b", plain):
            fits[role] = max(fits.get(role, 0), 100 * len(phrase.split()) + len(phrase))
    return list(fits.items())


def _recognised(row: Row) -> int:
    """How many cells of a row read like different headings. A figure is none."""
    return len(
        {
            max(fits, key=lambda fit: fit[1])[0]
            for cell in row.cells
            if isinstance(cell, str) and len(cell) <= 60 and (fits := _fits(cell))
        }
    )


_MASS_WORDS = {
    "g": "g grams gram gramme grammes gm gms",
    "kg": "kg kgs kilo kilos kilogram kilograms",
    "oz": "oz ozs ounce ounces",
    "lb": "lb lbs pound pounds",
    "grain": "grain grains",
    ASK: "gr grs",
}
_MASS_OF = {word: unit for unit, words in _MASS_WORDS.items() for word in words.split()}
_GRIST = (
    ("m/100 g", r"\b(m|metres?|meters?)\s*(/|per|to)?\s*100\s*(g|grams?)\b"),
    ("m/50 g", r"\b(m|metres?|meters?)\s*(/|per|to)?\s*50\s*(g|grams?)\b"),
    ("m/kg", r"\b(m|metres?|meters?)\s*(/|per|to)\s*(kg|kilos?|kilograms?)\b"),
    ("yd/lb", r"\bypp\b|\b(yds?|yards?|yardage)\s*(/|per|to)\s*(lbs?|pounds?)\b"),
    ("yd/oz", r"\b(yds?|yards?)\s*(/|per|to)\s*(oz|ounces?)\b"),
)
_PER = re.compile(
    r"(?:/|\bper\b|\ba\b)\s*(100\s*g|kg|kilo|kilogram|lb|pound|oz|ounce|cone|each|piece|skein)\b"
)
_PER_UNIT = {"kilo": "kg", "kilogram": "kg", "pound": "lb", "ounce": "oz"}
_SYSTEM_WORDS = {
    "ne": CountSystem.COTTON,
    "nec": CountSystem.COTTON,
    "nm": CountSystem.METRIC,
    "tex": CountSystem.TEX,
    "dtex": CountSystem.DTEX,
    "denier": CountSystem.DENIER,
}


def unit_in(heading: str, role: Role) -> str:
    """The unit that a heading names for a column of that role; "" for none, ASK where it can be two."""
    folded = _folded(heading)
    words = re.findall(r"[a-z]+", folded)
    if role.kind == "mass":
        return next((_MASS_OF[word] for word in reversed(words) if word in _MASS_OF), "")
    if role.kind == "grist":
        return _grist_unit(heading)
    if role.kind == "price":
        found = _PER.search(folded)
        unit = re.sub(r"\s+", " ", found[1]).replace("100g", "100 g") if found else ""
        unit = _PER_UNIT.get(unit, unit)
        return unit if unit in UNITS["price"] else ""
    return ""


def _system_in(heading: str) -> str:
    words = re.findall(r"[a-z]+", _folded(heading))
    return next((_SYSTEM_WORDS[word].value for word in words if word in _SYSTEM_WORDS), "")


def _grist_unit(heading: str) -> str:
    folded = _folded(heading)
    return next((unit for unit, pattern in _GRIST if re.search(pattern, folded)), "")
