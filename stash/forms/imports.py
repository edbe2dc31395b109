"""Bringing in a spreadsheet: the file, what its columns are, and what is left out."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from stash.calc.counts import CountSystem
from stash.calc.writing import Measures
from stash.forms.fields import MassField, MeasuredForm, RefusableForm
from stash.services.weighing import MOST_OF_A_CORE_MG
from stash.spreadsheets.columns import ASK, MASSES, UNITS, Column, Reading, Role, Table
from stash.spreadsheets.rows import questions
from stash.spreadsheets.sheet import MOST_ROWS, letter

# Roles by what they are about, for a long list to be read through.
_GROUPS = {
    "The yarn": (Role.YARN, Role.COUNT, Role.SYSTEM, Role.FIBRE, Role.STATED, Role.MEASURED),
    "The shade": (Role.SHADE, Role.COLOUR, Role.LOT),
    "The cone": (
        Role.CODE,
        Role.NET,
        Role.GROSS,
        Role.CORE,
        Role.LABELLED,
        Role.ESTIMATE,
        Role.FORM,
        Role.PLACE,
        Role.CONDITION,
        Role.PACKAGES,
    ),
    "Where it came from": (Role.SUPPLIER, Role.RECEIVED, Role.PRICE),
    "Words": (Role.NOTE,),
}
# As the studio spells them.
_SPELT = {Role.FIBRE: _("fibre content"), Role.COLOUR: _("colour for the screen (#2f5d50)")}
_UNIT_GROUPS = {"Weight": "mass", "Length per weight": "grist", "Price": "price"}
_UNIT_WANTED = {"mass": "a unit of weight", "grist": "a length per weight", "price": "what the price is for"}
_PER = {unit: f"per {unit}" for unit in UNITS["price"]} | {"cone": "for the cone", "row": "for the whole row"}
MOST_RANGES = 500
NAMED_ROWS = 20


class SpreadsheetForm(RefusableForm):
    """The file itself. Its limits are held by the view, which reads it."""

    file = forms.FileField(
        label="Spreadsheet",
        help_text="CSV or XLSX, at most 10 MB, 20,000 rows and 60 columns.",
        error_messages={
            "required": "Choose a file: CSV or XLSX.",
            "missing": "Choose a file: CSV or XLSX.",
            "empty": "The file is empty. A row of headings and at least one row are needed.",
        },
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx"}),
    )


class ColumnsForm(MeasuredForm):
    """What each column is taken for and in which unit, and the answers that hold for every row."""

    days = forms.ChoiceField(
        label="A day such as 3/4/2024 is",
        required=False,
        choices=[("day", "3 April: the day stands first"), ("month", "4 March: the month stands first")],
        widget=forms.RadioSelect,
    )
    commas = forms.ChoiceField(
        label="A figure such as 1,250 is",
        required=False,
        choices=[
            ("decimal", "one and a quarter: the comma is decimal"),
            ("thousands", "a thousand and more: the comma stands between thousands"),
        ],
        widget=forms.RadioSelect,
    )
    several = forms.ChoiceField(
        label="Where a row stands for several cones, its weights are",
        required=False,
        choices=[
            ("each", "each cone's: every one weighs as much"),
            ("together", "of all together: shared evenly, and marked as estimates"),
        ],
        widget=forms.RadioSelect,
        help_text="What a core weighs is each one's either way.",
    )
    system = forms.ChoiceField(
        label="Counts that name no system are in",
        required=False,
        choices=[("", "none: ask"), *((system.value, system.label) for system in CountSystem)],
        help_text="8/2 alone says nothing: 16/2 linen is nearly three times as heavy as 16/2 cotton.",
    )
    core = MassField(
        label="A core weighs, where a row says nothing",
        required=False,
        most=MOST_OF_A_CORE_MG,
        attrs={"inputmode": "decimal"},
        help_text="For weights with the core still in. Weigh an empty one of the kind you have most of.",
    )

    def __init__(self, *args: Any, table: Table, now: Reading, measures: Measures, **kwargs: Any) -> None:
        initial: dict[str, Any] = {
            "days": now.days,
            "commas": now.commas,
            "several": now.several,
            "system": now.system,
            "core": now.core_mg,
        }
        for at, column in enumerate(now.columns):
            initial[f"role_{at}"] = column.role.value
            initial[f"unit_{at}"] = _unit_key(column)
        super().__init__(*args, measures=measures, initial=initial, **kwargs)
        self.table, self.now = table, now
        for at, column in enumerate(now.columns):
            name = table.name(at)
            self.fields[f"role_{at}"] = _choice(f"{name} is", _roles(column), f"What {name} is")
            self.fields[f"unit_{at}"] = _choice(f"Unit of {name}", _units(column), f"Unit of {name}")
        self.reading: Reading | None = None

    @property
    def columns(self) -> list[dict[str, Any]]:
        """One for each row of the page's table."""
        return [
            {
                "heading": heading or "no heading",
                "letter": letter(at),
                "samples": self.table.samples(at),
                "role": self[f"role_{at}"],
                "unit": self[f"unit_{at}"],
            }
            for at, heading in enumerate(self.table.headings)
        ]

    @property
    def questions(self) -> list[forms.BoundField]:
        """What is asked only where the rows leave it open, or where it was answered before."""
        asked = {question.about for question in questions(self.table, self.reading or self.now)}
        shown = []
        for name in ("days", "commas", "several"):
            if name in asked or self[name].value() or self[name].errors:
                # Only now is it known that it may not stay empty.
                self.fields[name].required = name in asked
                shown.append(self[name])
        return shown

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        columns = []
        for at in range(len(self.table.headings)):
            role = Role(said.get(f"role_{at}") or "")
            kind, _colon, unit = said.get(f"unit_{at}", "").partition(":")
            if unit and role.kind and kind != role.kind and unit != ASK:
                self.add_error(f"unit_{at}", f"Choose {_UNIT_WANTED[role.kind]}, or leave it to the cells.")
                unit = ""
            columns.append(Column(role, unit if role.kind else ""))
        reading = Reading(
            tuple(columns),
            days=said.get("days", ""),
            commas=said.get("commas", ""),
            system=said.get("system", ""),
            core_mg=said.get("core"),
            alike=self.now.alike,
            left_out=self.now.left_out,
            several=said.get("several", ""),
        )
        for question in questions(self.table, reading):
            about = question.about
            if isinstance(about, int):
                about = f"unit_{about}" if question.of_unit else f"role_{about}"
            self.add_error(about if about in self.fields else None, question.message)
        self.reading = reading
        return said


def _choice(label: str, choices: list[Any], spoken: str) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, required=False, choices=choices, widget=forms.Select(attrs={"aria-label": spoken})
    )


def _roles(column: Column) -> list[Any]:
    ask = [(Role.WEIGHT.value, Role.WEIGHT.label)] if column.role is Role.WEIGHT else []
    groups = [
        (name, [(role.value, _SPELT.get(role, role.label)) for role in roles])
        for name, roles in _GROUPS.items()
    ]
    return [("", Role.NOTHING.label), *ask, *groups]


def _units(column: Column) -> list[Any]:
    ask = [(_unit_key(column), "gr: say which")] if column.unit == ASK else []
    groups = [
        (name, [(f"{kind}:{unit}", _PER[unit] if kind == "price" else unit) for unit in UNITS[kind]])
        for name, kind in _UNIT_GROUPS.items()
    ]
    return [("", "as in the cells"), *ask, *groups]


def _unit_key(column: Column) -> str:
    return f"{column.role.kind}:{column.unit}" if column.unit and column.role.kind else ""


assert set(MASSES) - {Role.WEIGHT} <= set(_GROUPS["The cone"])


class RowsForm(forms.Form):
    """What is decided when the rows are in sight."""

    alike = forms.ChoiceField(
        label="Rows that say the same in all things are",
        error_messages={"required": "Say whether each is a cone, or one cone stands there twice."},
        choices=[("each", "a cone each"), ("once", "one cone, written twice")],
        widget=forms.RadioSelect,
    )
    left_out = forms.CharField(
        label="Leave out rows",
        required=False,
        max_length=2_000,
        help_text="Numbers as in the spreadsheet: 12, 40-42.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "text"}),
    )

    def __init__(self, *args: Any, alike_rows: list[int] | None, **kwargs: Any) -> None:
        """`alike_rows` are those like an earlier one; None where there are none and nothing was said of them."""
        super().__init__(*args, **kwargs)
        if alike_rows is None:
            del self.fields["alike"]
        elif alike_rows:
            named = ", ".join(map(str, alike_rows[:NAMED_ROWS])) + (
                " and others" if len(alike_rows) > NAMED_ROWS else ""
            )
            self.fields["alike"].help_text = f"Each of these is like an earlier one: {named}."

    def clean_left_out(self) -> frozenset[int]:
        return read_row_numbers(self.cleaned_data["left_out"])


def read_row_numbers(text: str) -> frozenset[int]:
    """`12, 40-42`. Raises ValidationError saying which part is no number."""
    found: set[int] = set()
    parts = [part for part in text.replace(";", ",").replace("–", "-").split(",") if part.strip()]
    if len(parts) > MOST_RANGES:
        raise ValidationError(f"At most {MOST_RANGES} numbers and ranges. Leave rows out in the file itself.")
    for part in parts:
        first, dash, last = (piece.strip() for piece in part.partition("-"))
        last = last if dash else first
        if not (_is_row(first) and _is_row(last) and int(first) <= int(last)):
            raise ValidationError(f"“{part.strip()}” is no row. Give numbers of rows and ranges: 12, 40-42.")
        if int(last) - int(first) > MOST_ROWS:
            raise ValidationError(f"“{part.strip()}” is more rows than a file may have.")
        found.update(range(int(first), int(last) + 1))
    return frozenset(found)


def _is_row(text: str) -> bool:
    return text.isascii() and text.isdecimal() and 0 < len(text) <= 7


def write_row_numbers(rows: frozenset[int]) -> str:
    """What `read_row_numbers` reads back: rows that follow one another as a range."""
    runs: list[list[int]] = []
    for row in sorted(rows):
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    return ", ".join(str(first) if first == last else f"{first}-{last}" for first, last in runs)
