"""What an import would do, row by row: the dry run. Reads the books once, whatever the number of rows.

A row is a double when its cone is on the shelf already: by its code; because the same row was brought in
before (every cone that comes in by import has a key made of what its row says); or because a cone of the same
yarn, shade, lot, weight and place stands there. The key holds however often the cone was weighed or moved
since, so that the same file brought in again brings nothing.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass, field, replace
from hashlib import sha256
from typing import Any

from django.core.exceptions import ValidationError

from stash.models import Cone, Entry, Lot, Place, Shade, Supplier, Yarn
from stash.models.folding import fold
from stash.services.receiving import check_name, net_of
from stash.services.refusal import Refusal
from stash.services.weighing import MOST_OF_A_CONE_MG, MOST_OF_A_CORE_MG
from stash.services.yarns import YarnFacts, trusted_grist
from stash.spreadsheets.columns import Role
from stash.spreadsheets.rows import ConeRow, LeftOut, Problem, Understood

NEW, DOUBLE, LEFT, ERROR = "new", "double", "left", "error"
KEY_PREFIX = "import:"
MAKES = ("yarn", "shade", "lot", "place")

Identity = tuple[str, str, str, int, str]


@dataclass(frozen=True, slots=True)
class Line:
    """What becomes of one row, or of one cone of a row that stands for several; a row that cannot come in has one line.

    `makes` names what comes into being with it: yarn, shade, lot, place.
    """

    row: int
    state: str
    shows: str
    reason: str = ""
    problems: tuple[Problem, ...] = ()
    makes: tuple[str, ...] = ()
    facts: ConeRow | None = None
    key: str = ""

    def as_data(self) -> dict[str, Any]:
        facts = self.facts
        return {
            "row": self.row,
            "state": self.state,
            "shows": self.shows,
            "reason": self.reason,
            "problems": [[problem.column, problem.typed, problem.message] for problem in self.problems],
            "makes": list(self.makes),
            "cone": facts
            and {
                "yarn": facts.yarn,
                "shade": facts.shade,
                "lot": facts.lot,
                "code": facts.code,
                "place": facts.place,
                "net_mg": facts.net_mg,
                "gross_mg": facts.scale_mg if facts.gross else None,
                "core_mg": facts.core_mg,
                "price_cents": facts.price_cents,
                "supplier": facts.supplier,
                "received_on": facts.received_on and facts.received_on.isoformat(),
                "is_estimate": facts.is_estimate,
                "place_in_row": facts.place_in_row,
                "of": facts.of,
            },
        }


@dataclass(slots=True)
class Plan:
    """Lines in the order of the file. `yarns` are those to be made, by folded name. `asks_alike`: rows are the
    same in all things, and nobody has said yet whether each is a cone."""

    lines: list[Line] = field(default_factory=list)
    yarns: dict[str, YarnFacts] = field(default_factory=dict)
    asks_alike: bool = False
    alike_rows: tuple[int, ...] = ()

    def count(self, state: str) -> int:
        return sum(line.state == state for line in self.lines)

    @property
    def new(self) -> list[Line]:
        return [line for line in self.lines if line.state == NEW]

    @property
    def is_ready(self) -> bool:
        return bool(self.new) and not self.count(ERROR) and not self.asks_alike

    def as_data(self) -> dict[str, Any]:
        """For the pages of the dry run: what they show, errors first, as plain lists and dicts."""
        lines = sorted(self.lines, key=lambda line: (line.state != ERROR, line.row))
        return {
            "digest": self.digest,
            "is_ready": self.is_ready,
            "asks_alike": self.asks_alike,
            "alike_rows": list(self.alike_rows),
            "counts": {state: self.count(state) for state in (NEW, DOUBLE, LEFT, ERROR)},
            "makes": {what: sum(what in line.makes for line in self.lines) for what in MAKES},
            "net_mg": sum(line.facts.net_mg for line in self.new if line.facts),
            "lines": [line.as_data() for line in lines],
        }

    @property
    def digest(self) -> str:
        """Equal for two plans that would do the same."""
        said = [(line.row, line.state, line.key, line.makes) for line in self.lines]
        return sha256(repr(said).encode()).hexdigest()


class Shelf:
    """What the books know that a row can meet, in a fixed number of queries."""

    def __init__(self) -> None:
        self.yarns = {yarn.name.casefold(): yarn for yarn in Yarn.objects.all()}
        self.shades = {(shade.yarn_id, shade.search): shade for shade in Shade.objects.all()}
        self.lots = {(lot.shade_id, lot.name.casefold()): lot for lot in Lot.objects.all()}
        self.places = {place.name.casefold(): place for place in Place.objects.all()}
        self.codes: dict[str, tuple[str, int]] = {}
        self.alike: dict[tuple[int, str, int, str], list[str]] = defaultdict(list)
        rows = Cone.objects.order_by("pk").values_list(
            "code", "shade_id", "lot__name", "on_hand_mg", "place__name", "retired_at"
        )
        for code, shade_id, lot, on_hand_mg, place, retired_at in rows:
            self.codes[code.casefold()] = (code, shade_id)
            if retired_at is None:
                self.alike[shade_id, _small(lot), on_hand_mg, _small(place)].append(code)
        self.keys = dict(
            Entry.objects.filter(key__startswith=KEY_PREFIX).values_list("key", "cone__code").order_by()
        )

    def shade_of(self, row: ConeRow) -> Shade | None:
        yarn = self.yarns.get(row.yarn.casefold())
        return self.shades.get((yarn.pk, fold(row.shade))) if yarn else None

    def meets(self, row: ConeRow) -> list[str]:
        """Codes of live cones that are the same in yarn, shade, lot, weight and place, not yet met by a row."""
        shade = self.shade_of(row)
        if shade is None:
            return []
        return self.alike[shade.pk, _small(row.lot), row.net_mg, _small(row.place)]


def _small(name: str | None) -> str:
    return (name or "").casefold()


def plan_import(
    understood: Understood, *, columns: Mapping[Role, str], alike: str, shelf: Shelf | None = None
) -> Plan:
    """The dry run. Writes nothing. `columns` are the names of the columns, by what they are taken for."""
    planner = _Planner(columns, alike, shelf or Shelf())
    planner.draft_yarns(understood.rows, understood.troubled)
    for row in understood.rows:
        planner.take(row, understood.shows.get(row.row, ""))
    return planner.finish(understood)


class _Planner:
    def __init__(self, columns: Mapping[Role, str], alike: str, shelf: Shelf) -> None:
        self.columns, self.alike, self.shelf = columns, alike, shelf
        self.lines: list[Line] = []
        self.yarns: dict[str, YarnFacts] = {}
        self.yarn_row: dict[str, int] = {}
        self.yarn_problems: dict[int, list[Problem]] = defaultdict(list)
        self.made: set[tuple[str, ...]] = set()
        self.code_row: dict[str, int] = {}
        self.seen: Counter[Identity] = Counter()
        # The first row that says so, by how many cones it stands for too.
        self.first_row: dict[tuple[Identity, int], int] = {}
        self.refused: set[int] = set()
        self.alike_rows: list[int] = []

    # --- New yarns: all rows of a yarn together say what it is ------------------------------------------
    def draft_yarns(self, rows: Iterable[ConeRow], troubled: Set[str]) -> None:
        """`troubled` are yarns with rows that could not be read: those may say what is missing elsewhere."""
        for row in rows:
            if row.yarn.casefold() not in self.shelf.yarns:
                self._draft(row)
        for name, facts in self.yarns.items():
            row = self.yarn_row[name]
            try:
                check_name(Yarn, facts.name, "name")
                trusted_grist(facts)
            except ValidationError as error:
                self._yarn_problem(row, Role.YARN, facts.name, error.messages[0])
            except Refusal:
                if name in troubled:
                    continue
                self._yarn_problem(
                    row,
                    Role.COUNT if Role.COUNT in self.columns else Role.YARN,
                    "" if Role.COUNT in self.columns else facts.name,
                    f"{facts.name} is new, and neither a count with its system nor a length per weight says how "
                    "far it runs. Give one in any of its rows, or make the yarn first.",
                )

    def _draft(self, row: ConeRow) -> None:
        name = row.yarn.casefold()
        first = self.yarn_row.setdefault(name, row.row)
        known = self.yarns.setdefault(name, YarnFacts(name=row.yarn, fibres={}))
        said: dict[str, Any] = {
            "count": (row.count, Role.COUNT, row.count.written if row.count else ""),
            "stated": (row.stated, Role.STATED, ""),
            "measured": (row.measured, Role.MEASURED, ""),
            "fibres": (dict(row.fibres), Role.FIBRE, ", ".join(fibre for fibre, _ in row.fibres)),
        }
        for fact, (value, role, typed) in said.items():
            before = getattr(known, fact)
            if value and not before:
                known = replace(known, **{fact: value})
            elif value and value != before:
                self._yarn_problem(
                    row.row,
                    role,
                    typed,
                    f"Row {first} says otherwise of the same yarn, {row.yarn}. One yarn has one count, one length "
                    "per weight and one content: mend one of the two, or give them two names.",
                )
        self.yarns[name] = known

    def _yarn_problem(self, row: int, role: Role, typed: str, message: str) -> None:
        self.yarn_problems[row].append(Problem(row, self.columns.get(role, ""), typed, message))

    # --- Rows ------------------------------------------------------------------------------------------
    def take(self, row: ConeRow, shows: str) -> None:
        problems = [*self.yarn_problems[row.row], *self._problems(row)]
        identity = (_small(row.yarn), fold(row.shade), _small(row.lot), row.net_mg, _small(row.place))
        if row.code:
            first = self.code_row.setdefault(row.code.casefold(), row.row)
            if first != row.row:
                problems.append(
                    self._problem(
                        row, Role.CODE, row.code, f"Row {first} has this code too. Each cone has its own."
                    )
                )
            key = _key(identity, row.code.casefold())
        else:
            key = _key(identity, str(self.seen[identity]))
        if row.row in self.refused:
            return  # said with the row's first cone
        if problems:
            self.refused.add(row.row)
            self.lines.append(Line(row.row, ERROR, shows, problems=tuple(problems), facts=row))
            return
        if on_shelf := self._on_shelf(row, key):
            self._count(row, identity)
            self.lines.append(Line(row.row, DOUBLE, shows, on_shelf, facts=row, key=key))
            return
        first = self.first_row.get((identity, row.of), row.row)
        # The cones of one row are meant to be like each other.
        if not row.code and first != row.row:
            if self.alike == "once":
                self.lines.append(
                    Line(row.row, LEFT, shows, f"the same as row {first}, written twice", facts=row)
                )
                return
            if row.row not in self.alike_rows[-1:]:
                self.alike_rows.append(row.row)
        self._count(row, identity)
        self.lines.append(Line(row.row, NEW, shows, makes=self._makes(row), facts=row, key=key))

    def _count(self, row: ConeRow, identity: Identity) -> None:
        if not row.code:
            self.seen[identity] += 1
            self.first_row.setdefault((identity, row.of), row.row)

    def _problem(self, row: ConeRow, role: Role, typed: str, message: str) -> Problem:
        return Problem(row.row, self.columns.get(role, ""), typed, message)

    def _problems(self, row: ConeRow) -> list[Problem]:
        """What the services would refuse, each at its column."""
        found = []
        weighed = Role.GROSS if row.gross else Role.NET
        try:
            net_of(scale_mg=row.scale_mg, gross=row.gross, core_mg=row.core_mg)
        except Refusal as error:
            found.append(
                self._problem(row, Role.CORE if error.field == "core" else weighed, "", error.message)
            )
        if row.scale_mg > MOST_OF_A_CONE_MG or (row.labelled_mg or 0) > MOST_OF_A_CONE_MG:
            found.append(
                self._problem(row, weighed, "", "More than 100 kg on one cone? Check the unit of the column.")
            )
        if (row.core_mg or 0) > MOST_OF_A_CORE_MG:
            found.append(self._problem(row, Role.CORE, "", "A core of more than 5 kg? Check the unit."))
        for model, name, role in (
            (Shade, row.shade, Role.SHADE),
            (Lot, row.lot, Role.LOT),
            (Place, row.place, Role.PLACE),
            (Supplier, row.supplier, Role.SUPPLIER),
        ):
            try:
                check_name(model, name, "name")
            except ValidationError as error:
                found.append(self._problem(row, role, name, error.messages[0]))
        for name, role in (("code", Role.CODE), ("note", Role.NOTE)):
            text = getattr(row, name)
            try:
                if text:
                    Cone._meta.get_field(name).run_validators(text)
            except ValidationError as error:
                found.append(self._problem(row, role, text, error.messages[0]))
        return [*found, *self._meets_wrongly(row)]

    def _meets_wrongly(self, row: ConeRow) -> list[Problem]:
        """What contradicts the books."""
        yarn = self.shelf.yarns.get(row.yarn.casefold())
        shade = self.shelf.shade_of(row)
        found = []
        if yarn and yarn.retired_at:
            message = f"The yarn {yarn.name} is retired. Bring it back first."
            found.append(self._problem(row, Role.YARN, row.yarn, message))
        if shade and shade.retired_at:
            message = f"The shade {shade.name} is retired. Bring it back first."
            found.append(self._problem(row, Role.SHADE, row.shade, message))
        if yarn and row.count and yarn.count and row.count.grist != yarn.count.grist:
            message = (
                f"In the books {yarn.name} is {yarn.count.written}, here it is {row.count.written}. Leave the count "
                "empty, or give the yarn another name."
            )
            found.append(self._problem(row, Role.COUNT, row.count.written, message))
        known = self.shelf.codes.get(row.code.casefold()) if row.code else None
        if known and (shade is None or shade.pk != known[1]):
            message = (
                f"The cone {known[0]} of the books is of another yarn or shade. Give this one another code, or "
                "leave the code empty for the next free one."
            )
            found.append(self._problem(row, Role.CODE, row.code, message))
        return found

    def _on_shelf(self, row: ConeRow, key: str) -> str:
        """Why the row is a double, "" if it is none. A cone that one row met is met by no other."""
        if row.code and (known := self.shelf.codes.get(row.code.casefold())):
            return f"{known[0]} is in the books already; nothing of it is changed"
        met = self.shelf.meets(row)
        if code := self.shelf.keys.get(key):
            if code in met:
                met.remove(code)
            return f"brought in before, as {code}"
        if not row.code and met:
            return f"{met.pop(0)} is the same yarn, shade, lot, weight and place"
        return ""

    def _makes(self, row: ConeRow) -> tuple[str, ...]:
        """What of this row is new in the books and in no row before it."""
        yarn, shade = _small(row.yarn), fold(row.shade)
        known = self.shelf.shade_of(row)
        wanted = {
            "yarn": (row.yarn.casefold() not in self.shelf.yarns, ("yarn", yarn)),
            "shade": (known is None, ("shade", yarn, shade)),
            "lot": (
                bool(row.lot) and (known is None or (known.pk, row.lot.casefold()) not in self.shelf.lots),
                ("lot", yarn, shade, row.lot.casefold()),
            ),
            "place": (
                bool(row.place) and row.place.casefold() not in self.shelf.places,
                ("place", row.place.casefold()),
            ),
        }
        makes = tuple(what for what, (is_new, name) in wanted.items() if is_new and name not in self.made)
        self.made.update(wanted[what][1] for what in makes)
        return makes

    def finish(self, understood: Understood) -> Plan:
        by_row: dict[int, list[Problem]] = defaultdict(list)
        for problem in understood.problems:
            by_row[problem.row].append(problem)
        lines = self.lines
        lines += [
            Line(row, ERROR, understood.shows.get(row, ""), problems=tuple(found))
            for row, found in by_row.items()
        ]
        lines += [_left(left) for left in understood.left_out]
        lines.sort(key=lambda line: line.row)
        # A yarn is made only for a cone that comes in.
        wanted = {line.facts.yarn.casefold() for line in lines if line.state == NEW and line.facts}
        yarns = {name: facts for name, facts in self.yarns.items() if name in wanted}
        return Plan(lines, yarns, bool(self.alike_rows) and not self.alike, tuple(self.alike_rows))


def _left(left: LeftOut) -> Line:
    return Line(left.row, LEFT, left.shows, left.reason)


def _key(identity: Identity, which: str) -> str:
    """At most 40 signs, as the ledger keeps: the prefix and 32 figures of a sum."""
    return KEY_PREFIX + sha256(repr((*identity, which)).encode()).hexdigest()[:32]
