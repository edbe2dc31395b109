"""The demo studio as it is written down: TOML files read whole, checked whole, before anything is stored.

Texts are what a person would type into the forms, and are read by the same readers.
"""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeVar

from projects.models import LossWay
from stash.calc.colour_order import read_order
from stash.calc.counts import read_count
from stash.calc.draft import DRAFT, read_draft
from stash.calc.errors import CalcError
from stash.calc.needs import work_out
from stash.calc.plan import Plan
from stash.calc.quantity import (
    read_density,
    read_grist,
    read_length,
    read_mass,
    read_percent,
    read_whole,
)
from stash.calc.structure import structure
from stash.models import Condition, EntryKind, Form
from stash.services.yarns import YarnFacts
from stash.site.demo_edges import edges_of
from stash.site.demo_record import DemoNote, notes_of

SHELF_FILE = "shelf.toml"
PROJECTS_FILE = "projects.toml"

Value = TypeVar("Value")
ShadeName = tuple[str, str]
"""Yarn and shade."""


class DemoFileError(Exception):
    """A file of the demo says something that cannot be taken; the message names file and entry."""


@dataclass(frozen=True, slots=True)
class Event:
    """What happened to a cone so many days ago; None is now, after projects have reserved."""

    kind: EntryKind
    days_ago: int | None
    scale_mg: int = 0
    reason: str = ""


@dataclass(frozen=True, slots=True)
class DemoCone:
    """`core_mg` given means that it is always weighed with its core. Its first event is its receipt, its last one is a
    guess where it says so.
    """

    code: str
    lot: str
    form: str
    core_mg: int | None
    place: str
    moved_to: str
    note: str
    by_helper: bool
    events: tuple[Event, ...]
    guess: bool = False
    condition: str = ""


@dataclass(frozen=True, slots=True)
class DemoShade:
    name: str
    colour: str
    keep_mg: int | None
    note: str
    cones: tuple[DemoCone, ...]
    photo: str = ""
    one_more: bool = False
    no_more_ago: int | None = None
    """So many days ago it was said to be no more made."""


@dataclass(frozen=True, slots=True)
class DemoYarn:
    facts: YarnFacts
    shades: tuple[DemoShade, ...]


@dataclass(frozen=True, slots=True)
class DemoProject:
    """`need_in` are days from the day of loading; below 0 they are past."""

    name: str
    plan: Plan
    structure: str
    draft: Mapping[str, str]
    """Lines of the draft, where the structure is one of its own."""
    loss_way: str
    shades: Mapping[str, ShadeName]
    piece_name: str
    occasion: str
    need_in: int | None
    rank: int
    note: str
    chief: bool
    reserve: bool
    put_away: bool
    record: tuple[DemoNote, ...]
    same_lot: tuple[str, ...] = ()
    """Keys whose shade is wished for in one lot."""


@dataclass(frozen=True, slots=True)
class DemoFair:
    """`in_days` are from the day of loading to its first day; it lasts `days`."""

    name: str
    place: str
    in_days: int
    days: int
    note: str
    projects: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DemoStocktake:
    """`differs` are cones that were not found as the books have them: the scale in mg, and why."""

    place: str
    differs: dict[str, tuple[int, str]]


@dataclass(frozen=True, slots=True)
class Demo:
    yarns: tuple[DemoYarn, ...]
    projects: tuple[DemoProject, ...]
    stocktake: DemoStocktake | None = None
    fairs: tuple[DemoFair, ...] = ()

    @property
    def chief(self) -> DemoProject:
        return next(project for project in self.projects if project.chief)

    @property
    def cones(self) -> list[tuple[ShadeName, DemoCone]]:
        return [
            ((yarn.facts.name, shade.name), cone)
            for yarn in self.yarns
            for shade in yarn.shades
            for cone in shade.cones
        ]


def read_demo(folder: Path) -> Demo:
    """Raises DemoFileError, which names the file and the entry."""
    shelf, plans = _file(folder / SHELF_FILE), _file(folder / PROJECTS_FILE)
    late = _late_weighings(plans)
    yarns = tuple(_yarn(entry, late) for entry in shelf.entries("yarn", "name"))
    projects = tuple(_project(entry) for entry in plans.entries("project", "name"))
    stocktake = _stocktake(shelf)
    fairs = tuple(_fair(entry) for entry in plans.entries("fair", "name")) if "fair" in plans.left else ()
    plans.forget("fair")
    shelf.finish()
    plans.finish()
    demo = Demo(yarns, projects, stocktake, fairs)
    _check_names(demo)
    _check_cones(demo, late)
    _check_projects(demo)
    return demo


class _Entry:
    """One table of a file: each key is taken once, what is left over at the end was no key."""

    def __init__(self, values: object, where: str) -> None:
        self.where = where
        if not isinstance(values, dict):
            raise self.error("this must be a table of keys and values.")
        self.left: dict[str, Any] = dict(values)
        self.known: list[str] = []

    def error(self, message: str, key: str = "") -> DemoFileError:
        return DemoFileError(f"{self.where}: {key}: {message}" if key else f"{self.where}: {message}")

    def take(self, key: str, kind: type | tuple[type, ...], what: str, default: Any = None) -> Any:
        self.known.append(key)
        if key not in self.left:
            if default is None:
                raise self.error(f"the key “{key}” is missing; give {what}.")
            return default
        value = self.left.pop(key)
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.error(f"give {what}.", key)
        return value

    def text(self, key: str, default: str | None = None) -> str:
        return str(self.take(key, str, "a text in quotes", default))

    def flag(self, key: str) -> bool:
        return bool(self.take(key, bool, "true or false", False))

    def whole(self, key: str, least: int, most: int) -> int:
        what = f"a whole number from {least} to {most}"
        number = int(self.take(key, int, what))
        if not least <= number <= most:
            raise self.error(f"give {what}.", key)
        return number

    def read(self, key: str, reader: Callable[[str], Value], default: str | None = None) -> Value:
        return self.typed(key, self.text(key, default), reader)

    def maybe(self, key: str, reader: Callable[[str], Value]) -> Value | None:
        return self.read(key, reader) if key in self.left else self.forget(key)

    def forget(self, key: str) -> None:
        self.known.append(key)

    def typed(self, key: str, text: object, reader: Callable[[str], Value]) -> Value:
        if not isinstance(text, str):
            raise self.error("give a text in quotes.", key)
        try:
            return reader(text)
        except CalcError as error:
            raise self.error(error.message, key) from error

    def entries(self, key: str, name: str | None = None) -> list["_Entry"]:
        """The tables under a key; each is named in errors by its number, and by its own `name` key."""
        found = []
        for number, values in enumerate(self.take(key, list, "a list of tables", []), start=1):
            called = values.get(name) if name and isinstance(values, dict) else None
            label = f"{key} “{called}”" if called else f"{key} number {number}"
            found.append(_Entry(values, f"{self.where}, {label}"))
        return found

    def finish(self) -> None:
        if self.left:
            raise self.error(
                f"“{next(iter(self.left))}” is no key here; known are {', '.join(sorted(set(self.known)))}."
            )


def _file(path: Path) -> _Entry:
    try:
        with path.open("rb") as opened:
            return _Entry(tomllib.load(opened), path.name)
    except OSError as error:
        raise DemoFileError(f"{path.name} cannot be read from {path.parent} ({error.strerror}).") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise DemoFileError(f"{path.name} is not TOML: {error}.") from error


def _yarn(entry: _Entry, late: Mapping[str, Event]) -> DemoYarn:
    name = entry.text("name")
    system = entry.text("system", "")
    fibres = _Entry(entry.take("fibres", dict, "a table of fibre = per cent"), f"{entry.where}, fibres")
    shares = {fibre: fibres.whole(fibre, 1, 100) for fibre in list(fibres.left)}
    if sum(shares.values()) != 100:
        raise fibres.error(f"they add up to {sum(shares.values())} %; together they must be 100 %.")
    facts = YarnFacts(
        name=name,
        count=entry.maybe("count", lambda text: read_count(text, system)),
        measured=entry.maybe("measured", read_grist),
        stated=entry.maybe("stated", read_grist),
        fibres=shares,
        note=entry.text("note", ""),
    )
    if not (facts.count or facts.measured or facts.stated):
        raise entry.error("give a count with its system, or a length per mass (measured or stated).")
    shades = tuple(_shade(shade, late) for shade in entry.entries("shade", "name"))
    entry.finish()
    return DemoYarn(facts, shades)


def _shade(entry: _Entry, late: Mapping[str, Event]) -> DemoShade:
    shade = DemoShade(
        name=entry.text("name"),
        colour=entry.text("colour"),
        keep_mg=entry.maybe("keep", lambda text: read_mass(text, "g", least=1)),
        note=entry.text("note", ""),
        cones=tuple(_cone(cone, late) for cone in entry.entries("cones", "code")),
        photo=entry.text("photo", ""),
        one_more=entry.flag("one_more"),
        no_more_ago=entry.whole("no_more_ago", 0, MOST_DAYS) if "no_more_ago" in entry.left else None,
    )
    entry.forget("no_more_ago")
    entry.finish()
    return shade


def _cone(entry: _Entry, late: Mapping[str, Event]) -> DemoCone:
    code = entry.text("code")
    form = entry.text("form", Form.CONE)
    if form not in Form.values:
        raise entry.error(f"“{form}” is no form; known are {', '.join(Form.values)}.", "form")
    condition = entry.text("condition", "")
    if condition and condition not in Condition.values:
        raise entry.error(
            f"“{condition}” is no condition; known are {', '.join(Condition.values)}.", "condition"
        )
    events = [_event(entry, "received", entry.take("received", list, _RECEIVED), EntryKind.RECEIVED)]
    events += [
        _event(entry, "weighed", weighing, EntryKind.WEIGHED)
        for weighing in entry.take("weighed", list, f"a list of {_WEIGHED}", [])
    ]
    if "retired" in entry.left:
        events.append(_retired(entry))
    entry.forget("retired")
    days = [event.days_ago for event in events if event.days_ago is not None]
    if any(later >= earlier for earlier, later in pairwise(days)):
        raise entry.error(
            "what happened to a cone stands from the oldest to the latest, a day apart at least."
        )
    if code in late:
        events.append(late[code])
    cone = DemoCone(
        code=code,
        lot=entry.text("lot", ""),
        form=form,
        core_mg=entry.maybe("core", read_mass),
        place=entry.text("place", ""),
        moved_to=entry.text("moved_to", ""),
        note=entry.text("note", ""),
        by_helper=entry.flag("by_helper"),
        events=tuple(events),
        guess=entry.flag("guess"),
        condition=condition,
    )
    entry.finish()
    return cone


_RECEIVED = '[days ago, "what the scale said"]'
_WEIGHED = '[days ago, "what the scale said"], with a reason in a third place if there is one'
MOST_DAYS = 5_000


def _event(entry: _Entry, key: str, parts: object, kind: EntryKind) -> Event:
    received = kind == EntryKind.RECEIVED
    if not (
        isinstance(parts, list)
        and (len(parts) == 2 or (len(parts) == 3 and not received))
        and all(isinstance(part, str) for part in parts[1:])
    ):
        raise entry.error(f"give {_RECEIVED if received else _WEIGHED}.", key)
    scale_mg = entry.typed(key, parts[1], lambda text: read_mass(text, "g"))
    return Event(kind, _days(entry, key, parts[0]), scale_mg, parts[2] if len(parts) == 3 else "")


def _stocktake(shelf: _Entry) -> DemoStocktake | None:
    if "stocktake" not in shelf.left:
        shelf.forget("stocktake")
        return None
    entry = _Entry(shelf.take("stocktake", dict, "a table"), f"{shelf.where}, stocktake")
    differs = {}
    found = entry.take("differs", dict, 'a table of code = ["what the scale said", "why"]', {})
    for code, parts in found.items():
        if not (isinstance(parts, list) and len(parts) == 2 and isinstance(parts[1], str)):
            raise entry.error('give ["what the scale said", "why"].', f"differs, {code}")
        differs[code] = (entry.typed(code, parts[0], lambda text: read_mass(text, "g")), parts[1])
    stocktake = DemoStocktake(entry.text("place"), differs)
    entry.finish()
    return stocktake


def _retired(entry: _Entry) -> Event:
    parts = entry.take("retired", list, '[days ago, "why"]')
    if len(parts) != 2 or not isinstance(parts[1], str) or not parts[1].strip():
        raise entry.error('give [days ago, "why"].', "retired")
    return Event(EntryKind.RETIRED, _days(entry, "retired", parts[0]), reason=parts[1])


def _days(entry: _Entry, key: str, days: object) -> int:
    if not isinstance(days, int) or isinstance(days, bool) or not 1 <= days <= MOST_DAYS:
        raise entry.error(f"the days come first, a whole number from 1 to {MOST_DAYS}.", key)
    return days


def _late_weighings(plans: _Entry) -> dict[str, Event]:
    """Weighings after the projects have reserved, by cone."""
    late: dict[str, Event] = {}
    for entry in plans.entries("weighing", "cone"):
        code = entry.text("cone")
        if code in late:
            raise entry.error("this cone is weighed here already; once is enough.", "cone")
        scale_mg = entry.read("scale", lambda text: read_mass(text, "g"))
        late[code] = Event(EntryKind.WEIGHED, None, scale_mg, entry.text("reason", ""))
        entry.finish()
    return late


def _fair(entry: _Entry) -> DemoFair:
    names = entry.take("projects", list, "a list of projects", [])
    fair = DemoFair(
        name=entry.text("name"),
        place=entry.text("place", ""),
        in_days=entry.whole("in_days", 1, 400),
        days=entry.whole("days", 1, 9),
        note=entry.text("note", ""),
        projects=tuple(str(name) for name in names),
    )
    entry.finish()
    return fair


def _project(entry: _Entry) -> DemoProject:
    across, along = _losses(entry, "loss_across"), _losses(entry, "loss_along")
    if len(across) != len(along):
        raise entry.error("give one loss both ways, or two both ways.", "loss_along")
    whole_warp = entry.flag("whole_warp")
    values: dict[str, Any] = {
        "pieces": entry.read("pieces", lambda text: read_whole(text, least=1)),
        "across_um": entry.read("across", read_length),
        "along_um": entry.read("along", read_length),
        "hem_um": entry.read("hem", read_length, "0 in"),
        "gap_um": entry.read("gap", read_length, "1/2 in"),
        "sample_um": entry.read("sample", read_length, "0 in"),
        "header_um": entry.read("header", read_length, "0 in"),
        "waste_um": entry.read("waste", read_length),
        "take_up": entry.read("take_up", read_percent),
        "weft_take_up": entry.read("weft_take_up", read_percent, "10 %"),
        "warp_buffer": entry.read("warp_buffer", read_percent, "5 %"),
        "weft_buffer": entry.read("weft_buffer", read_percent, "8 %"),
        "sett": entry.read("sett", read_density),
        "picks": entry.read("picks", read_density),
        "order": entry.read("colour_order", read_order),
        "pick_order": entry.read("pick_order", lambda text: read_order(text, word="picks")),
        "keep_back": entry.read("keep_back", read_whole, "0"),
        "balance_ends": entry.read("balance", read_whole, "0"),
    }
    try:
        values |= edges_of(entry)
        plan = Plan(losses_across=across, losses_along=along, order_fills=not whole_warp, **values)
        needed = {need.key for need in work_out(plan).needs}
    except CalcError as error:
        raise entry.error(error.message, error.field) from error
    project = DemoProject(
        name=entry.text("name"),
        plan=plan,
        structure=(key := entry.read("structure", _structure_key)),
        draft=_draft(entry) if key == DRAFT else {},
        loss_way=LossWay.SIMPLE if len(across) == 1 else LossWay.SPLIT,
        shades=_project_shades(entry, needed),
        piece_name=entry.text("piece_name"),
        occasion=entry.text("occasion", ""),
        need_in=entry.whole("need_in", -MOST_DAYS, MOST_DAYS)
        if "need_in" in entry.left
        else entry.forget("need_in"),
        rank=entry.whole("rank", 1, 9),
        note=entry.text("note", ""),
        chief=entry.flag("chief"),
        reserve=entry.flag("reserve"),
        put_away=entry.flag("put_away"),
        record=notes_of(entry),
        same_lot=tuple(str(key) for key in entry.take("same_lot", list, "a list of keys", [])),
    )
    entry.finish()
    return project


def _losses(entry: _Entry, key: str) -> tuple[Fraction, ...]:
    """One total loss, or two that follow each other."""
    texts = entry.take(key, list, 'a list of one or two percentages, ["10 %"]')
    return tuple(entry.typed(key, text, read_percent) for text in texts)


def _structure_key(text: str) -> str:
    if text != DRAFT:
        structure(text)
    return text


def _draft(entry: _Entry) -> dict[str, str]:
    """The lines of a draft that can be woven, under their names."""
    lines = {name: entry.text(name, "") for name in ("threading", "tie_up", "treadling", "lift_plan")}
    try:
        read_draft(**lines)
    except CalcError as error:
        raise entry.error(error.message, error.field) from error
    return lines


def _project_shades(entry: _Entry, needed: set[str]) -> dict[str, ShadeName]:
    shades = {}
    for key, names in entry.take("shades", dict, 'a table of key = ["yarn", "shade"]').items():
        if not isinstance(names, list) or len(names) != 2 or not all(isinstance(name, str) for name in names):
            raise entry.error('give ["yarn", "shade"].', f"shades, {key}")
        shades[key] = (names[0], names[1])
    if set(shades) != needed:
        raise entry.error(
            f"the orders use {', '.join(sorted(needed))}, shades stand under {', '.join(sorted(shades))}.",
            "shades",
        )
    return shades


def _check_names(demo: Demo) -> None:
    """Names are how a second run knows what stands there already."""
    _once(SHELF_FILE, "yarn", [yarn.facts.name for yarn in demo.yarns])
    for yarn in demo.yarns:
        _once(f"{SHELF_FILE}, yarn “{yarn.facts.name}”", "shade", [shade.name for shade in yarn.shades])
    _once(SHELF_FILE, "cone", [cone.code for _, cone in demo.cones])
    _once(PROJECTS_FILE, "project", [project.name for project in demo.projects])


def _once(where: str, what: str, names: list[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise DemoFileError(f"{where}: {what} “{name}” stands twice; give each a name of its own.")
        seen.add(name)


def _check_cones(demo: Demo, late: Mapping[str, Event]) -> None:
    unknown = set(late) - {cone.code for _, cone in demo.cones}
    if unknown:
        raise DemoFileError(f"{PROJECTS_FILE}, weighing: there is no cone “{min(unknown)}” in {SHELF_FILE}.")
    for (yarn, shade), cone in demo.cones:
        if any(event.kind == EntryKind.RETIRED for event in cone.events[:-1]):
            raise DemoFileError(
                f"{SHELF_FILE}, yarn “{yarn}”, shade “{shade}”, cone “{cone.code}”: "
                f"it is retired, so {PROJECTS_FILE} cannot weigh it later."
            )


def _check_projects(demo: Demo) -> None:
    shades = {(yarn.facts.name, shade.name) for yarn in demo.yarns for shade in yarn.shades}
    for project in demo.projects:
        where = f"{PROJECTS_FILE}, project “{project.name}”"
        for key, (yarn, shade) in project.shades.items():
            if (yarn, shade) not in shades:
                raise DemoFileError(
                    f"{where}: shades, {key}: there is no shade “{shade}” of a yarn “{yarn}” in {SHELF_FILE}."
                )
        if project.put_away and (project.reserve or project.chief):
            raise DemoFileError(f"{where}: what is put away reserves nothing and is not the chief project.")
    chiefs = [project for project in demo.projects if project.chief]
    if len(chiefs) != 1 or chiefs[0].need_in is None:
        raise DemoFileError(f"{PROJECTS_FILE}: one project, with a day (need_in), is marked chief = true.")
    known = {project.name for project in demo.projects if not project.put_away}
    for fair in demo.fairs:
        for name in fair.projects:
            if name not in known:
                raise DemoFileError(
                    f"{PROJECTS_FILE}, fair “{fair.name}”: there is no open project “{name}”."
                )
    for project in demo.projects:
        if not set(project.same_lot) <= set(project.shades):
            raise DemoFileError(
                f"{PROJECTS_FILE}, project “{project.name}”: same_lot: give keys of its shades."
            )
        sooner = project.need_in is not None and project.need_in <= chiefs[0].need_in
        if sooner and not project.chief and not project.put_away:
            raise DemoFileError(
                f"{PROJECTS_FILE}, project “{project.name}”: need_in: "
                f"the chief project “{chiefs[0].name}” needs its yarn first; give more days than {chiefs[0].need_in}."
            )
