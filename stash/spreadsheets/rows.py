"""Rows of a table to what they say of cones, without asking the books.

Each row becomes a `ConeRow`, or is left out with a reason, or has problems, each with its row, its column, what
stands there and what would be accepted.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, TypeVar

from stash.calc.counts import Count
from stash.calc.errors import CalcError
from stash.calc.fibres import read_fibres
from stash.calc.grist import Grist
from stash.calc.money import shared
from stash.spreadsheets.cells import (
    commas_of,
    day_order_of,
    is_unknown,
    price_cents,
    read_choice,
    read_colour,
    read_count_cell,
    read_day,
    read_grist_cell,
    read_number,
    read_price,
    read_system,
    read_weight,
    text_of,
)
from stash.spreadsheets.columns import ASK, MASSES, REPEATABLE, UNITS, Reading, Role, Table
from stash.spreadsheets.sheet import MOST_ROWS, Row

Value = TypeVar("Value")

# Cones that one file may bring: as many as it may have rows.
MOST_CONES = MOST_ROWS
# Weights that were each rounded to a gram may differ by that much.
ROUNDED_MG = 1_500
_YES_OR_NO = {"yes": "yes", "no": "no", "y": "yes", "n": "no", "true": "yes", "false": "no", "x": "yes"}


@dataclass(frozen=True, slots=True)
class Words:
    """What the studio's own words are. `forms`, `conditions`: word in small letters to what is stored;
    `cores`: name of a kind of core in small letters to its name and mass."""

    currency: str
    mass_unit: str
    grist_unit: str
    today: date
    forms: Mapping[str, str]
    conditions: Mapping[str, str]
    cores: Mapping[str, tuple[str, int]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ConeRow:
    """What one row says. Masses in mg; `scale_mg` is with the core when `gross`. "" or None: nothing said."""

    row: int
    yarn: str
    shade: str
    scale_mg: int
    gross: bool = False
    core_mg: int | None = None
    core_kind: str = ""
    labelled_mg: int | None = None
    is_estimate: bool = False
    count: Count | None = None
    stated: Grist | None = None
    measured: Grist | None = None
    fibres: tuple[tuple[str, int], ...] = ()
    colour: str = ""
    lot: str = ""
    code: str = ""
    form: str = ""
    place: str = ""
    condition: str = ""
    price_cents: int | None = None
    supplier: str = ""
    received_on: date | None = None
    note: str = ""
    # The how manieth cone of the row, and of how many.
    place_in_row: int = 1
    of: int = 1

    @property
    def net_mg(self) -> int:
        return self.scale_mg - (self.core_mg or 0) if self.gross else self.scale_mg


@dataclass(frozen=True, slots=True)
class Problem:
    """Why a row cannot come in. `column` as people know it, "" for the whole row."""

    row: int
    column: str
    typed: str
    message: str


@dataclass(frozen=True, slots=True)
class LeftOut:
    row: int
    reason: str
    shows: str


@dataclass(slots=True)
class Understood:
    rows: list[ConeRow] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    shows: dict[int, str] = field(default_factory=dict)
    # Yarns of rows that could not be read: what those say of the yarn is not known here.
    troubled: set[str] = field(default_factory=set)


@dataclass(frozen=True, slots=True)
class Question:
    """What must be decided before the rows can be read. `about` is a column's index, or "days", "commas" or "several".
    `of_unit`: it is the unit of that column that is asked for."""

    about: int | str
    message: str
    of_unit: bool = False


def questions(table: Table, reading: Reading) -> list[Question]:
    """What is still open in a reading, or contradicts itself."""
    asked = [*_column_questions(table, reading)]
    roles = {column.role for column in reading.columns}
    if Role.YARN not in roles and not {Role.COUNT, Role.FIBRE} <= roles:
        asked.append(
            Question("columns", "Which column is the yarn? A count and a fibre will do in place of its name.")
        )
    if Role.SHADE not in roles:
        asked.append(Question("columns", "Which column is the shade?"))
    if not roles & {Role.NET, Role.GROSS, Role.WEIGHT}:
        asked.append(Question("columns", "Which column is the weight?"))
    told, is_open = day_order_of(_texts(table, reading, {Role.RECEIVED}))
    if is_open and not (reading.days or told):
        asked.append(Question("days", "Some days, such as 3/4/2024, can be read both ways. Say which it is."))
    told, is_open = commas_of(_texts(table, reading, MASSES | {Role.STATED, Role.MEASURED, Role.PRICE}))
    if is_open and not (reading.commas or told):
        asked.append(
            Question(
                "commas", "Some figures, such as 1,250, can be read both ways. Say what the comma means."
            )
        )
    if _has_several(table, reading):
        if not reading.several:
            message = "Some rows stand for several cones. Say whether their weights are each cone's or of all together."
            asked.append(Question("several", message))
        at = reading.column_of(Role.PRICE)
        if at is not None and not reading.columns[at].unit:
            message = "Some rows stand for several cones. Is the price for the cone, for the whole row, or by weight?"
            asked.append(Question(at, message, of_unit=True))
    return asked


def _has_several(table: Table, reading: Reading) -> bool:
    """Whether a column says how many cones a row is, and some row says other than one."""
    at = reading.column_of(Role.PACKAGES)
    if at is None:
        return False
    for row in table.rows:
        try:
            if (text := text_of(row[at])) and not is_unknown(text) and read_number(text) > 1:
                return True
        except CalcError:
            continue  # said of its row in the dry run
    return False


def _column_questions(table: Table, reading: Reading) -> list[Question]:
    asked = []
    first: dict[Role, int] = {}
    for at, column in enumerate(reading.columns):
        role = column.role
        if role not in REPEATABLE and (other := first.setdefault(role, at)) != at:
            asked.append(
                Question(
                    at, f"{table.name(other)} is taken for the {role.label} already. Choose one of the two."
                )
            )
        if role is Role.WEIGHT:
            asked.append(Question(at, "Is this the weight of the yarn alone, or of yarn and core together?"))
        if column.unit == ASK and role.kind:
            asked.append(Question(at, "“gr” can be grams or grains. Choose the unit.", of_unit=True))
        elif column.unit and role.kind and column.unit not in UNITS[role.kind]:
            asked.append(
                Question(
                    at, f"“{column.unit}” is no unit for this. Choose one of {', '.join(UNITS[role.kind])}."
                )
            )
    return asked


def _texts(table: Table, reading: Reading, roles: frozenset[Role] | set[Role]) -> list[str]:
    """What is typed in the columns of these roles; figures of the file itself leave nothing open."""
    columns = [at for at, column in enumerate(reading.columns) if column.role in roles]
    return [cell for row in table.rows for at in columns if isinstance(cell := row[at], str) and cell]


def understand(table: Table, reading: Reading, words: Words, lost: frozenset[tuple[int, int]]) -> Understood:
    """Read every row. `lost` are the cells of formulas without a value."""
    reader = _Reader(table, reading, words, lost)
    for row in table.rows:
        reader.read(row)
    return reader.found


class _Reader:
    def __init__(
        self, table: Table, reading: Reading, words: Words, lost: frozenset[tuple[int, int]]
    ) -> None:
        self.table, self.reading, self.words, self.lost = table, reading, words, lost
        self.at: dict[Role, int] = {
            column.role: at for at, column in enumerate(reading.columns) if column.role is not Role.NOTE
        }
        self.notes = [at for at, column in enumerate(reading.columns) if column.role is Role.NOTE]
        self.used = [at for at, column in enumerate(reading.columns) if column.role is not Role.NOTHING]
        told, _ = day_order_of(_texts(table, reading, {Role.RECEIVED}))
        self.days = reading.days or told
        told, _ = commas_of(_texts(table, reading, MASSES | {Role.STATED, Role.MEASURED, Role.PRICE}))
        self.commas = reading.commas or told
        self.found = Understood()

    def read(self, row: Row) -> None:
        shows = " · ".join(text for at in self.used if (text := text_of(row[at])))
        if row.number in self.reading.left_out:
            self.found.left_out.append(LeftOut(row.number, "left out as you said", shows))
            return
        if not shows:
            self.found.left_out.append(LeftOut(row.number, "nothing in the columns that are used", ""))
            return
        self.found.shows[row.number] = shows
        before = len(self.found.problems)
        self._refuse_lost(row)
        # Every cell is tried, so that all problems of a row are told at once.
        facts = _Facts(self, row)
        made = facts.gather()
        if len(self.found.problems) > before:
            self.found.troubled.add(facts.yarn_name().casefold())
            return
        if made is None:
            self.found.left_out.append(LeftOut(row.number, "nothing is left on it", shows))
        elif len(self.found.rows) + made.of > MOST_CONES:
            message = f"With this row the file has more than {MOST_CONES:,} cones. Bring it in as several smaller files."
            self.problem(row, self.at.get(Role.PACKAGES), message)
        else:
            self.found.rows += facts.cones(made)

    def _refuse_lost(self, row: Row) -> None:
        for at in self.used:
            if (row.number, at) in self.lost:
                self.problem(
                    row,
                    at,
                    "A formula, and the file does not hold what it comes to. Write the value, or open the file in "
                    "the program that made it and save it once.",
                )

    def problem(self, row: Row, at: int | None, message: str) -> None:
        if at is None:
            self.found.problems.append(Problem(row.number, "", "", message))
        else:
            self.found.problems.append(Problem(row.number, self.table.name(at), text_of(row[at]), message))


class _Facts:
    """One row in the reading."""

    def __init__(self, reader: _Reader, row: Row) -> None:
        self.reader, self.row = reader, row
        self.number = 1

    @property
    def is_together(self) -> bool:
        """Whether the weights of the row are of several cones together."""
        return self.number > 1 and self.reader.reading.several == "together"

    def text(self, role: Role) -> str:
        at = self.reader.at.get(role)
        if at is None or (self.row.number, at) in self.reader.lost:
            return ""
        return " ".join(text_of(self.row[at]).split())

    def unit(self, role: Role) -> str:
        return self.reader.reading.columns[self.reader.at[role]].unit

    def refuse(self, role: Role | None, message: str) -> None:
        at = self.reader.at.get(role) if role else None
        # That a formula has no value is said already.
        if at is None or (self.row.number, at) not in self.reader.lost:
            self.reader.problem(self.row, at, message)

    def take(self, role: Role, read: Callable[[str], Value], empty: Any = None) -> Value | Any:
        """What stands in the role's cell; `empty` where nothing does or where it cannot be read, which is noted."""
        text = self.text(role)
        if not text or is_unknown(text):
            return empty
        try:
            return read(text)
        except CalcError as error:
            self.refuse(role, error.message)
            return empty

    def weight(self, role: Role) -> tuple[int, bool] | None:
        words, commas = self.reader.words, self.reader.commas
        return self.take(role, lambda text: read_weight(text, self.unit(role) or words.mass_unit, commas))

    def mass(self, role: Role) -> tuple[int, bool] | None:
        """The weight of one cone of the row; of a share that does not come out whole, without what is left over."""
        weight = self.weight(role)
        return (weight[0] // self.number, True) if weight and self.is_together else weight

    def cones(self, made: ConeRow) -> list[ConeRow]:
        """The cones for which the row stands. Shares of weight and price add up to what the row says, to the mg and
        the cent: the first cones carry what is left over."""
        if made.of == 1:
            return [made]
        weights = self._shares(Role.GROSS if made.gross else Role.NET, made.scale_mg)
        labelled = self._shares(Role.LABELLED, made.labelled_mg)
        prices: list[int | None] = [made.price_cents] * made.of
        if made.price_cents is not None and self.unit(Role.PRICE) == "row":
            prices = [*shared(made.price_cents, made.of)]
        return [
            replace(made, scale_mg=scale_mg or 0, labelled_mg=label_mg, price_cents=cents, place_in_row=place)
            for place, (scale_mg, label_mg, cents) in enumerate(
                zip(weights, labelled, prices, strict=True), 1
            )
        ]

    def _shares(self, role: Role, each: int | None) -> list[int | None]:
        weight = self.weight(role) if self.is_together and each is not None else None
        return [*shared(weight[0], self.number)] if weight else [each] * self.number

    def gather(self) -> ConeRow | None:
        """The row's facts, for the first of its cones; None where nothing is left on the cone, or after a problem that
        is noted."""
        before = len(self.reader.found.problems)
        words, commas = self.reader.words, self.reader.commas
        yarn, shade = self.yarn_name(), self.text(Role.SHADE)
        if not yarn:
            self.refuse(
                Role.YARN if Role.YARN in self.reader.at else None, "The yarn is missing: write its name."
            )
        if not shade:
            self.refuse(
                Role.SHADE, "The shade is missing: write its name; undyed yarn has one too, as natural."
            )
        self.number = self.take(Role.PACKAGES, read_number, 1)
        if self.number > 1 and self._word(Role.CODE):
            self.refuse(
                Role.CODE,
                f"One code for {self.number} cones. Each has its own: write a row for each, or leave the code empty for "
                "the next free ones.",
            )
        core_mg, core_kind = self._core()
        scale_mg, gross, is_estimate = self._scale(core_mg)
        labelled = self.mass(Role.LABELLED)
        price = self.take(Role.PRICE, lambda text: read_price(text, words.currency, commas))
        made = ConeRow(
            row=self.row.number,
            yarn=yarn,
            shade=shade,
            scale_mg=scale_mg or 0,
            gross=gross,
            core_mg=core_mg,
            core_kind=core_kind,
            labelled_mg=(labelled[0] or None) if labelled else None,
            is_estimate=is_estimate or self._is_estimate(),
            count=self._count(),
            stated=self._grist(Role.STATED),
            measured=self._grist(Role.MEASURED),
            fibres=tuple(self.take(Role.FIBRE, read_fibres, {}).items()),
            colour=self.take(Role.COLOUR, read_colour, ""),
            lot=self._word(Role.LOT),
            code=self._word(Role.CODE),
            form=self.take(Role.FORM, lambda text: read_choice(text, words.forms, "form of package"), ""),
            place=self._word(Role.PLACE),
            condition=self.take(
                Role.CONDITION, lambda text: read_choice(text, words.conditions, "condition"), ""
            ),
            supplier=self._word(Role.SUPPLIER),
            received_on=self.take(Role.RECEIVED, lambda text: read_day(text, self.reader.days, words.today)),
            note=self._note(),
            of=self.number,
        )
        if len(self.reader.found.problems) > before or scale_mg is None:
            return None
        if price is None or made.net_mg <= 0:
            return made
        return replace(made, price_cents=price_cents(price, self.unit(Role.PRICE), made.net_mg))

    def _word(self, role: Role) -> str:
        text = self.text(role)
        return "" if is_unknown(text) else text

    def _is_estimate(self) -> bool:
        text = self.text(Role.ESTIMATE)
        if not text:
            return False
        try:
            return read_choice(text, _YES_OR_NO, "answer to whether it is an estimate") == "yes"
        except CalcError as error:
            self.refuse(Role.ESTIMATE, error.message)
            return False

    def _note(self) -> str:
        return "; ".join(
            text
            for at in self.reader.notes
            if (text := text_of(self.row[at]).strip()) and (self.row.number, at) not in self.reader.lost
        )

    def yarn_name(self) -> str:
        """Its name; without one, count and fibre as the trade says them: 8/2 cotton."""
        if name := self._word(Role.YARN):
            return name
        count, fibre = self.text(Role.COUNT), self.text(Role.FIBRE)
        if not count or not fibre:
            return ""
        return count if fibre.casefold() in count.casefold() else f"{count} {fibre}"

    def _count(self) -> Count | None:
        stated = self.take(Role.SYSTEM, read_system)
        system = stated.value if stated else self.reader.reading.system
        if self.text(Role.COUNT):
            return self.take(Role.COUNT, lambda text: read_count_cell(text, system))
        # Many a yarn is called by its count: 8/2 cotton.
        try:
            return read_count_cell(self.text(Role.YARN), system)
        except CalcError:
            return None

    def _grist(self, role: Role) -> Grist | None:
        words, commas = self.reader.words, self.reader.commas
        return self.take(
            role, lambda text: read_grist_cell(text, self.unit(role) or words.grist_unit, commas)
        )

    def _core(self) -> tuple[int | None, str]:
        """Mass of the core, and the kind of core where a kind was named."""
        text = self.text(Role.CORE)
        if not text or is_unknown(text):
            return self.reader.reading.core_mg, ""
        kind = self.reader.words.cores.get(text.casefold())
        if kind:
            return kind[1], kind[0]
        weight = self.weight(Role.CORE)
        return (weight[0] if weight else None), ""

    def _scale(self, core_mg: int | None) -> tuple[int | None, bool, bool]:
        """What the scale said (None: nothing is left, or it cannot be told), whether with the core, and
        whether it was an estimate."""
        noted = len(self.reader.found.problems)
        net, gross = self.mass(Role.NET), self.mass(Role.GROSS)
        if len(self.reader.found.problems) > noted:
            return None, False, False
        if net is None and gross is None:
            role = Role.NET if Role.NET in self.reader.at else Role.GROSS
            self.refuse(role, "The weight is missing. Weigh the cone, or write an estimate as ~200 g.")
            return None, False, False
        if net and gross:
            return self._both(net, gross, core_mg)
        if net:
            return (net[0] or None), False, net[1]
        assert gross is not None
        if core_mg is None:
            self.refuse(
                Role.CORE if Role.CORE in self.reader.at else Role.GROSS,
                "The weight is with the core, and what the core weighs is missing. Write it, or give below the "
                "table of columns what a core weighs where a row says nothing.",
            )
            return None, False, False
        if gross[0] < core_mg:
            self.refuse(Role.GROSS, "Yarn and core together cannot weigh less than the core alone.")
            return None, False, False
        return (gross[0] if gross[0] > core_mg else None), True, gross[1]

    def _both(
        self, net: tuple[int, bool], gross: tuple[int, bool], core_mg: int | None
    ) -> tuple[int | None, bool, bool]:
        """The yarn's own weight counts, where both are given and agree."""
        if gross[0] < net[0]:
            self.refuse(Role.GROSS, "Yarn and core together cannot weigh less than the yarn alone.")
        elif (
            Role.CORE in self.reader.at
            and core_mg is not None
            and abs(gross[0] - net[0] - core_mg) > ROUNDED_MG
        ):
            self.refuse(
                Role.GROSS, "Yarn and core do not add up to this. Mend one of the three, or leave one out."
            )
        return (net[0] or None), False, net[1]
