"""Bringing in what a dry run showed: all of it, or nothing."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from datetime import date, datetime, time

from django.core.exceptions import ValidationError
from django.db import IntegrityError, OperationalError, transaction
from django.utils import timezone

from stash.calc.writing import Measures
from stash.models import (
    ColumnReading,
    Condition,
    Cone,
    CoreKind,
    Delivery,
    Entry,
    EntryKind,
    Form,
    Lot,
    Person,
    Place,
    Shade,
    Studio,
    Supplier,
    Yarn,
)
from stash.models.folding import fold
from stash.services.deliveries import find_supplier
from stash.services.import_desk import Waiting
from stash.services.import_plan import Line, Plan, Shelf, plan_import
from stash.services.refusal import Refusal
from stash.services.weighing import bring, new_entry
from stash.services.yarns import save_yarn
from stash.spreadsheets.columns import Reading, Role, Table, table_of
from stash.spreadsheets.rows import Understood, Words, understand
from stash.spreadsheets.sheet import Sheet

log = logging.getLogger(__name__)

# Cones a round: each round tells how far it is. SQLite takes some tens of rows a statement anyway.
A_ROUND = 250
# Somebody may take a code or make a shade in the same moment, on PostgreSQL; then all is tried anew.
TRIES = 3

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came in. Codes are the first and the last that were given out or typed."""

    cones: int
    yarns: int
    shades: int
    lots: int
    places: int
    first_code: str
    last_code: str
    yarn_ids: tuple[int, ...]


def remember_reading(table: Table, reading: Reading) -> None:
    """Keep how these headings are read, for the next spreadsheet that has them."""
    ColumnReading.objects.update_or_create(
        headings=table.key,
        defaults={"reading": reading.for_next_time().as_data(), "used_at": timezone.now()},
    )


def remembered_reading(table: Table) -> Reading | None:
    kept = ColumnReading.objects.filter(headings=table.key).first()
    if kept is None:
        return None
    try:
        return Reading.from_data(kept.reading)
    except (KeyError, TypeError, ValueError):  # kept by another version of this program
        return None


def column_names(table: Table, reading: Reading) -> dict[Role, str]:
    """The columns in use, as people know them."""
    names: dict[Role, str] = {}
    for at, column in enumerate(reading.columns):
        if column.role is not Role.NOTHING:
            names.setdefault(column.role, table.name(at))
    return names


def words_of(studio: Studio, measures: Measures) -> Words:
    """The studio's own words and units, by which cells are read."""
    return Words(
        currency=studio.currency,
        mass_unit=measures.mass_unit,
        grist_unit=measures.grist_unit,
        today=timezone.localdate(),
        forms={word: form.value for form in Form for word in (form.label, form.value)},
        conditions={word: one.value for one in Condition for word in (one.label, one.value)},
        cores={kind.name.casefold(): (kind.name, kind.mass_mg) for kind in CoreKind.objects.all()},
    )


def rehearse(sheet: Sheet, reading: Reading, *, studio: Studio, measures: Measures) -> Plan:
    """The dry run of a sheet. Writes nothing."""
    table = table_of(sheet)
    understood = understand(table, reading, words_of(studio, measures), sheet.lost)
    return plan_import(understood, columns=column_names(table, reading), alike=reading.alike)


def run_waiting(waiting: Waiting, *, by: Person, digest: str, studio: Studio, measures: Measures) -> None:
    """Bring in what waits, telling progress and end at the desk. Raises nothing: nobody may be listening.

    The caller has begun the run. `digest` is of the dry run that was shown.
    """
    try:
        outcome = _bring_in(waiting, by, digest, studio, measures)
    except Refusal as error:
        waiting.fail(error.message)
    except OperationalError:
        waiting.fail("The books were busy for too long. Nothing was brought in. Try again.")
    except Exception:
        waiting.fail("Something of ours went wrong. Nothing was brought in; the server's log says what.")
        log.exception("An import failed")
    else:
        waiting.succeed(asdict(outcome))


def _bring_in(waiting: Waiting, by: Person, digest: str, studio: Studio, measures: Measures) -> Outcome:
    sheet, reading = waiting.sheet(), waiting.reading()
    if sheet is None or reading is None:
        raise Refusal("The spreadsheet waits no longer. Choose it again.")
    table = table_of(sheet)
    columns = column_names(table, reading)
    understood = understand(table, reading, words_of(studio, measures), sheet.lost)
    try:
        return import_rows(
            understood,
            columns=columns,
            alike=reading.alike,
            digest=digest,
            by=by,
            source=waiting.name,
            progress=waiting.tell,
        )
    except Refusal:
        # The next look at the list is at a new one.
        waiting.keep_plan(plan_import(understood, columns=columns, alike=reading.alike).as_data())
        raise


def import_rows(
    understood: Understood,
    *,
    columns: dict[Role, str],
    alike: str,
    digest: str,
    by: Person,
    source: str,
    progress: Progress = lambda done, total: None,
) -> Outcome:
    """Do what the dry run with this digest showed. Raises Refusal when it can no longer be done so.

    `source` is the name of the file, for the deliveries. `progress` is told outside of what is written here:
    it must not use this connection.
    """
    for left in reversed(range(TRIES)):
        try:
            with transaction.atomic(durable=True):
                _lock_known(understood)
                shelf = Shelf()
                plan = plan_import(understood, columns=columns, alike=alike, shelf=shelf)
                if plan.digest != digest or not plan.is_ready:
                    raise Refusal(
                        "The shelf has changed since this list was made. Nothing was brought in. Look the list "
                        "through again: it has been made anew."
                    )
                return _Bringing(plan, shelf, by, source, progress).write()
        except IntegrityError as error:
            if not left:
                raise Refusal(
                    "Others write into the same books just now, and something of this file came in by them. "
                    "Nothing was brought in by you. Look the list through again."
                ) from error
    raise AssertionError


def _lock_known(understood: Understood) -> None:
    """The house's order: yarns, then shades, each by key, so that none is retired while its cones come."""
    names = {row.yarn.casefold() for row in understood.rows}
    yarns = [yarn.pk for yarn in Yarn.objects.order_by("pk") if yarn.name.casefold() in names]
    list(Yarn.objects.select_for_update(no_key=True).filter(pk__in=yarns).order_by("pk").values_list("pk"))
    list(
        Shade.objects.select_for_update(no_key=True)
        .filter(yarn__in=yarns)
        .order_by("yarn_id", "pk")
        .values_list("pk")
    )


class _Bringing:
    """One import being written, inside the caller's transaction."""

    def __init__(self, plan: Plan, shelf: Shelf, by: Person, source: str, progress: Progress) -> None:
        self.plan, self.shelf, self.by, self.source, self.progress = plan, shelf, by, source, progress
        self.now = timezone.now()
        self.today = timezone.localdate(self.now)
        self.lines = plan.new
        self.core_kinds = {kind.name: kind for kind in CoreKind.objects.all()}

    def write(self) -> Outcome:
        self.progress(0, len(self.lines))
        yarns = [save_yarn(facts=facts) for facts in self.plan.yarns.values()]
        self.shelf.yarns |= {yarn.name.casefold(): yarn for yarn in yarns}
        shades, lots, places = self._shades(), self._lots(), self._places()
        deliveries = self._deliveries()
        codes = self._free_codes()
        given: list[str] = []
        for start in range(0, len(self.lines), A_ROUND):
            batch = self.lines[start : start + A_ROUND]
            cones = [self._cone(line, deliveries, codes) for line in batch]
            entries = [self._entry(cone, line) for cone, line in zip(cones, batch, strict=True)]
            Cone.objects.bulk_create(cones)
            Entry.objects.bulk_create(entries)
            given += [cone.code for cone in cones]
            self.progress(start + len(batch), len(self.lines))
        return Outcome(
            cones=len(given),
            yarns=len(yarns),
            shades=shades,
            lots=lots,
            places=places,
            first_code=given[0],
            last_code=given[-1],
            yarn_ids=tuple(yarn.pk for yarn in yarns),
        )

    def _rows_that_make(self, what: str) -> Iterator[Line]:
        return (line for line in self.lines if what in line.makes)

    def _yarn(self, line: Line) -> Yarn:
        return self.shelf.yarns[line.facts.yarn.casefold()]

    def _shades(self) -> int:
        colours: dict[tuple[int, str], str] = {}
        for line in self.lines:
            if line.facts.colour:
                colours.setdefault((self._yarn(line).pk, fold(line.facts.shade)), line.facts.colour)
        made = []
        for line in self._rows_that_make("shade"):
            yarn, search = self._yarn(line), fold(line.facts.shade)
            shade = Shade(
                yarn=yarn, name=line.facts.shade, colour=colours.get((yarn.pk, search), ""), search=search
            )
            _clean(shade, line)
            made.append(shade)
        Shade.objects.bulk_create(made)
        self.shelf.shades |= {(shade.yarn_id, shade.search): shade for shade in made}
        return len(made)

    def _lots(self) -> int:
        made = [
            Lot(shade=self.shelf.shade_of(line.facts), name=line.facts.lot)
            for line in self._rows_that_make("lot")
        ]
        Lot.objects.bulk_create(made)
        self.shelf.lots |= {(lot.shade_id, lot.name.casefold()): lot for lot in made}
        return len(made)

    def _places(self) -> int:
        made = [Place(name=line.facts.place) for line in self._rows_that_make("place")]
        Place.objects.bulk_create(made)
        self.shelf.places |= {place.name.casefold(): place for place in made}
        return len(made)

    def _deliveries(self) -> dict[tuple[str, date], Delivery]:
        """One for each supplier and day, closed: nothing more is awaited of it."""
        suppliers: dict[str, Supplier | None] = {}
        made: dict[tuple[str, date], Delivery] = {}
        for line in self.lines:
            name = line.facts.supplier
            if not name or self._parcel(line) in made:
                continue
            if name.casefold() not in suppliers:
                suppliers[name.casefold()] = find_supplier(name)
            made[self._parcel(line)] = Delivery(
                supplier=suppliers[name.casefold()],
                received_on=self._parcel(line)[1],
                note=f"brought in from {self.source}"[:200],
                closed_at=self.now,
                made_at=self.now,
            )
        Delivery.objects.bulk_create(made.values())
        return made

    def _parcel(self, line: Line) -> tuple[str, date]:
        return line.facts.supplier.casefold(), line.facts.received_on or self.today

    def _free_codes(self) -> Iterator[str]:
        """K-001 and on, after the highest in the books and in the file."""
        taken = set(self.shelf.codes) | {line.facts.code.casefold() for line in self.lines if line.facts.code}
        ours = (code[2:] for code in taken if code.startswith("k-"))
        number = max((int(figures) for figures in ours if _counts(figures)), default=0)
        while True:
            number += 1
            code = f"K-{number:03d}"
            if code.casefold() not in taken:
                yield code

    def _cone(self, line: Line, deliveries: dict[tuple[str, date], Delivery], codes: Iterator[str]) -> Cone:
        facts = line.facts
        shade = self.shelf.shade_of(facts)
        cone = Cone(
            code=facts.code or next(codes),
            shade=shade,
            lot=self.shelf.lots[shade.pk, facts.lot.casefold()] if facts.lot else None,
            form=facts.form or Form.CONE,
            core_mg=facts.core_mg,
            core_kind=self.core_kinds.get(facts.core_kind),
            place=self.shelf.places[facts.place.casefold()] if facts.place else None,
            condition=facts.condition or Condition.SOUND,
            # The file says what it is, not since when: known since today.
            condition_on=self.today if facts.condition not in ("", Condition.SOUND) else None,
            labelled_mg=facts.labelled_mg,
            price_cents=facts.price_cents,
            delivery=deliveries.get(self._parcel(line)) if facts.supplier else None,
            note=facts.note,
            received_at=self._came(line),
        )
        cone.search = cone.search_words()
        _clean(cone, line)
        return cone

    def _came(self, line: Line) -> datetime:
        """Noon of the day it came, so that no time zone makes it another day."""
        day = line.facts.received_on
        if day is None or day == self.today:
            return self.now
        return timezone.make_aware(datetime.combine(day, time(12)))

    def _entry(self, cone: Cone, line: Line) -> Entry:
        facts = line.facts
        entry = new_entry(
            cone=cone,
            after_mg=facts.net_mg,
            kind=EntryKind.RECEIVED,
            by=self.by,
            at=cone.received_at,
            gross_mg=facts.scale_mg if facts.gross else None,
            core_mg=facts.core_mg if facts.gross else None,
            is_estimate=facts.is_estimate,
            key=line.key,
        )
        _clean(entry, line)
        bring(cone, entry)
        return entry


def _counts(figures: str) -> bool:
    """As `receiving.next_code`: a code with more figures is no number of ours."""
    return figures.isascii() and figures.isdigit() and len(figures) <= 8


def _clean(row: Cone | Entry | Shade, line: Line) -> None:
    """The model's own word on each field. What it points to was just read or made; rules across fields and
    rows are the database's, which checks them all the same."""
    points = [field.name for field in row._meta.fields if field.is_relation]
    try:
        row.clean_fields(exclude=points)
    except ValidationError as error:
        raise Refusal(f"Row {line.row}: {' '.join(error.messages)} Nothing was brought in.") from error
