"""An order as rows beside its typed line: what they show, and what each button makes of the line."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from projects.forms.plan import PlanForm, shade_field
from projects.models import Project
from stash.calc.colour_order import Order, Run
from stash.calc.errors import CalcError
from stash.calc.fit_width import WidthChoice, width_choices
from stash.calc.order_edit import (
    Path,
    Row,
    added,
    at,
    is_symmetrical,
    mirror_balance,
    moved,
    placed,
    removed,
    repeated,
    rows_of,
    symmetrical,
    symmetrical_repeat,
    unwrapped,
    with_key,
    with_number,
)
from stash.calc.plan import Plan
from stash.calc.quantity import read_whole
from stash.models import Shade

ORDER_FIELDS = {"colour_order": "end", "pick_order": "pick"}
MOST_ROWS = 200
"""A longer order is typed: nobody drags in a list of so many rows."""
# What a field of lengths shows without more decimals: a hundredth of an inch, a tenth of a millimetre.
_STEP_UM = {"imperial": 254, "metric": 100}


@dataclass(frozen=True, slots=True)
class Choice:
    """A key that a row may have, and the shade it stands for."""

    key: str
    shade: Shade | None

    @property
    def name(self) -> str:
        return self.shade.name if self.shade else ""


@dataclass(frozen=True, slots=True)
class RowLine:
    """A row of the list; `inside` are the rows of a repeat."""

    row: Row
    shade: Shade | None
    inside: Sequence["RowLine"] = ()

    @property
    def path(self) -> str:
        return write_path(self.row.path)


@dataclass(frozen=True, slots=True)
class FitLine:
    choice: WidthChoice
    in_reed: str
    finished: str
    edges: str

    @property
    def value(self) -> str:
        return f"{self.choice.repeats}.{self.choice.balance}"


@dataclass(frozen=True, slots=True)
class Editor:
    """Everything that stands below the typed line."""

    name: str
    word: str
    order: Order | None
    lines: Sequence[RowLine]
    choices: Sequence[Choice]
    shades: Mapping[str, Shade]
    fits: Sequence[FitLine] = ()
    symmetrical: bool = False
    fills: bool = False
    typed: bool = False
    focus: str = ""
    said: str = ""
    """What a button did, for those who do not see it."""
    fields: Mapping[str, str] = field(default_factory=dict)
    """Fields of the plan that change with the line."""

    @property
    def line(self) -> str:
        return self.order.text if self.order else ""

    @property
    def words(self) -> str:
        return f"{self.word}s"

    @property
    def unreadable(self) -> bool:
        """Something is typed, and no order can be read from it."""
        return self.order is None and self.typed

    @property
    def too_long(self) -> bool:
        return len(self.order.items if self.order else ()) > 0 and not self.lines


@dataclass(frozen=True, slots=True)
class Edited:
    """What a button made of the line."""

    order: Order | None
    focus: Path = ()
    said: str = ""
    fields: Mapping[str, str] = field(default_factory=dict)


def editor(form: PlanForm, name: str, project: Project | None, edited: Edited | None = None) -> Editor:
    """The rows of an order of the form as it stands, or as a button left it."""
    if edited:
        order = edited.order
    elif form.is_bound:
        order = None if name in form.errors else form.cleaned_data.get(name)
    else:
        order = form.initial.get(name)
    shades = shades_named(form)
    plan = _plan(form, project) if name == "colour_order" else None
    fills = plan is not None and plan.order_fills
    rows = rows_of(order) if order else ()
    return Editor(
        name=name,
        word=ORDER_FIELDS[name],
        order=order,
        lines=_lines(rows, shades) if len(rows) <= MOST_ROWS else (),
        choices=[Choice(key, shades.get(key)) for key in _keys(form, order)],
        shades=shades,
        fits=_fits(plan, order, form) if plan and order else (),
        symmetrical=order is not None and _evens_out(order, plan),
        fills=fills,
        typed=form.is_bound and bool(str(form.data.get(name, "")).strip()),
        focus=write_path(edited.focus) if edited else "",
        said=edited.said if edited else "",
        fields=edited.fields if edited else {},
    )


def edit(form: PlanForm, name: str, asked: Mapping[str, Any], paths: Sequence[str]) -> Edited:
    """The line after the button that was pressed. Raises CalcError in words for the person."""
    order = _read(form, name)
    what = asked.get("do", "read")
    word = ORDER_FIELDS[name]
    if what == "read":
        return Edited(order)
    if what == "add":
        below = read_path(paths[0]) if paths else None
        made, path = added(order, below, Run(1, _next_key(form, order, below)))
        return Edited(made, path, f"Row added: {at(made, path).text}.")
    if order is None:
        raise CalcError("There is no row yet: add one first.")
    if what == "mirror":
        return _mirrored(form, name, order, middle_twice=asked.get("value") == "twice")
    if what == "fit":
        return _fitted(form, order, asked.get("value", ""))
    if what == "repeat":
        made, path = repeated(order, [read_path(one) for one in paths])
        return Edited(made, path, f"Made into a repeat: {at(made, path).text}.")
    path = read_path(paths[0] if paths else "")
    if what == "number":
        number = _number(asked.get("value", ""), word)
        made = with_number(order, path, number)
        return Edited(made, path)
    if what == "key":
        return Edited(with_key(order, path, asked.get("value", "")), path)
    if what == "remove":
        gone = at(order, path).text
        made = removed(order, path)
        return Edited(made, _near(made, path), f"Taken out: {gone}.")
    if what == "unwrap":
        return Edited(unwrapped(order, path), path, "The repeat is undone; its rows stand once.")
    if what in ("up", "down"):
        made, place = moved(order, path, what)
    elif what == "place":
        made, place = placed(order, path, read_path(asked.get("before", "")))
    else:
        raise CalcError(
            "This page is too old for that. Load it again; what you typed is kept if you save it."
        )
    return Edited(made, place, _where(made, place, word))


def read_path(text: str) -> Path:
    """2.0 as a path. Raises CalcError."""
    parts = text.split(".")
    if not all(part.isascii() and part.isdigit() and len(part) <= 4 for part in parts) or len(parts) > 10:
        raise CalcError("This row is no longer there: the line was changed meanwhile.")
    return tuple(int(part) for part in parts)


def write_path(path: Path) -> str:
    return ".".join(map(str, path))


def _read(form: PlanForm, name: str) -> Order | None:
    if not form.is_bound or not str(form.data.get(name, "")).strip():
        return None
    if name in form.errors:
        raise CalcError(form.errors[name][0])
    return form.cleaned_data[name]


def _number(text: str, word: str) -> int:
    try:
        return read_whole(text, least=1)
    except CalcError as error:
        raise CalcError(f"{error.message} (Number of {word}s.)") from error


def _next_key(form: PlanForm, order: Order | None, below: Path | None) -> str:
    """Another shade than the row above has: that is what a new row is for."""
    keys = _keys(form, order)
    if order is None:
        return keys[0]
    above = at(order, below) if below else order.items[-1]
    while not isinstance(above, Run):
        above = above.items[-1]
    used = [key for key in order.by_key if key != above.key]
    return used[0] if used else next(key for key in keys if key != above.key)


def _near(order: Order, path: Path) -> Path:
    """A row where one was taken out: the one that moved up into its place, or the one above."""
    paths = [row.path for row in rows_of(order)]
    if path in paths:
        return path
    return max((one for one in paths if one <= path), default=paths[0])


def _where(order: Order, path: Path, word: str) -> str:
    row = next(row for row in rows_of(order) if row.path == path)
    return f"{at(order, path).text} now begins at {word} {row.begins_at:,}."


def _mirrored(form: PlanForm, name: str, order: Order, *, middle_twice: bool) -> Edited:
    fills = name == "colour_order" and form.is_bound and bool(form.cleaned_data.get("order_fills"))
    if not fills:
        made = symmetrical(order, middle_twice=middle_twice)
        return Edited(made, (), f"Mirrored: {made.length:,} {ORDER_FIELDS[name]}s.")
    made, balance = symmetrical_repeat(order, middle_twice=middle_twice)
    said = f"Mirrored: a repeat of {made.length:,} ends, balanced by {balance:,}."
    return Edited(made, (), said, {"balance_ends": str(balance)})


def _fitted(form: PlanForm, order: Order, value: str) -> Edited:
    plan = getattr(form, "plan", None)
    for choice in _choices(plan, form) if plan else ():
        if f"{choice.repeats}.{choice.balance}" == value:
            fields = {"balance_ends": str(choice.balance)}
            if choice.asks_um != plan.across_um:
                fields["across"] = form.measures.field_short_length(choice.asks_um)
            return Edited(
                order, (), f"Taken: {choice.ends:,} ends, {_size(choice.finished_um, form)} finished.", fields
            )
    raise CalcError("The plan was changed meanwhile: choose from the list as it stands now.")


def _choices(plan: Plan, form: PlanForm) -> tuple[WidthChoice, ...]:
    return width_choices(plan, step_um=_STEP_UM[form.measures.length])


def _size(um: Any, form: PlanForm) -> str:
    return form.measures.short_length(um)


def _fits(plan: Plan, order: Order, form: PlanForm) -> Sequence[FitLine]:
    if plan.order != order:
        return ()  # the rest of the form is a step behind; the next answer has it
    try:
        found = _choices(plan, form)
    except CalcError:
        return ()
    return [
        FitLine(
            choice=one,
            in_reed=_size(one.in_reed_um, form),
            finished=_size(one.finished_um, form),
            edges=f"{one.first_key} and {one.last_key}"
            if not one.edges_match
            else f"{one.first_key} on both",
        )
        for one in found
    ]


def _evens_out(order: Order, plan: Plan | None) -> bool:
    """Does the warp, or the order of the picks, read the same from either end already?"""
    if plan is None or not plan.order_fills:
        return is_symmetrical(order)
    mirror = mirror_balance(order)
    return mirror is not None and (plan.balance_ends - mirror) % order.length == 0


def _plan(form: PlanForm, project: Project | None) -> Plan | None:
    if form.is_bound:
        return form.plan if form.worked else None
    return project.plan if project else None


def shades_named(form: PlanForm) -> dict[str, Shade]:
    """The shades that the form names, by their keys."""
    named = form.cleaned_data if form.is_bound else form.initial
    found = {key: named.get(shade_field(key)) for key in form.keys}
    return {key: shade for key, shade in found.items() if isinstance(shade, Shade)}


def _keys(form: PlanForm, order: Order | None) -> list[str]:
    more = [key for key in (order.by_key if order else ()) if key not in form.keys]
    return [*form.keys, *more]


def _lines(rows: Sequence[Row], shades: Mapping[str, Shade]) -> list[RowLine]:
    def under(parent: Path) -> list[RowLine]:
        return [
            RowLine(row, shades.get(row.key), under(row.path) if row.is_repeat else ())
            for row in rows
            if row.path[:-1] == parent
        ]

    return under(())
