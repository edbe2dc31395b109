"""The demo's equipment: typed text through the same forms and services as a person's, by name, so that a load that
was cut short can be completed."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from projects.services.planning import Gear
from stash.calc.writing import Measures
from stash.forms.equipment import FORMS, LoomForm
from stash.models import Loom, Reed
from stash.services.equipment import KINDS, lend, save_equipment

EQUIPMENT_FILE = "equipment.toml"
_DAYS = ("back_in", "busy_in", "off_in")
_WANT = {"project", "loom", "reed", "dressing", "sley", "keeps", "off_in"}


class EquipmentFileError(Exception):
    """The file says something that cannot be taken; the message names the entry."""


@dataclass(frozen=True, slots=True)
class DemoEquipment:
    """By kind the typed texts of each thing, and by project what it is to be woven with."""

    things: Mapping[str, list[dict[str, Any]]]
    wants: Mapping[str, dict[str, Any]]


def read_equipment(folder: Path) -> DemoEquipment:
    """Raises EquipmentFileError. A demo without the file has no equipment."""
    path = folder / EQUIPMENT_FILE
    if not path.exists():
        return DemoEquipment({}, {})
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise EquipmentFileError(f"{EQUIPMENT_FILE} is not TOML: {error}.") from error
    unknown = set(found) - set(FORMS) - {"wants"}
    if unknown:
        raise EquipmentFileError(f"{EQUIPMENT_FILE}: “{min(unknown)}” is no kind of equipment.")
    wants = {}
    for want in found.get("wants", []):
        if set(want) - _WANT or "project" not in want:
            raise EquipmentFileError(
                f"{EQUIPMENT_FILE}: a want has a project, and of these: {sorted(_WANT)}."
            )
        wants[want["project"]] = want
    return DemoEquipment({kind: found.get(kind, []) for kind in FORMS}, wants)


def load_equipment(equipment: DemoEquipment, measures: Measures, today: date) -> int:
    """Note what is not there yet; returns how many things there are. Raises EquipmentFileError or what services raise."""
    number = 0
    for kind, entries in equipment.things.items():
        for entry in entries:
            number += 1
            if not KINDS[kind].objects.filter(name=entry.get("name", "")).exists():
                _note(kind, dict(entry), measures, today)
    return number


def _note(kind: str, typed: dict[str, Any], measures: Measures, today: date) -> None:
    where = f"{EQUIPMENT_FILE}, {kind}, “{typed.get('name', '')}”"
    days = {name: today + timedelta(days=typed.pop(name)) for name in _DAYS if name in typed}
    lent_to = typed.pop("lent_to", "")
    if "busy_in" in days:
        typed["busy_until"] = days["busy_in"].isoformat()
    form = FORMS[kind](typed, measures=measures)
    unknown = set(typed) - set(form.fields)
    if unknown:
        raise EquipmentFileError(f"{where}: “{min(unknown)}” is no key here.")
    if not form.is_valid():
        name, errors = next(iter(form.errors.items()))
        raise EquipmentFileError(f"{where}: {name}: {errors[0]}")
    made = save_equipment(
        kind=kind,
        values=form.values(),
        place=form.cleaned_data["place"],
        heddles=form.by_shaft if isinstance(form, LoomForm) else None,
    )
    if lent_to:
        lend(kind=kind, pk=made.pk, to=lent_to, back_on=days.get("back_in"))


def gear_of(equipment: DemoEquipment, project: str, today: date) -> Gear | None:
    """What a project is to be woven with; None where the file says nothing. Raises EquipmentFileError."""
    want = equipment.wants.get(project)
    if want is None:
        return None
    off_in = want.get("off_in")
    return Gear(
        loom_id=_key(Loom, want.get("loom"), project),
        reed_id=_key(Reed, want.get("reed"), project),
        dressing=want.get("dressing", "tied"),
        sley=want.get("sley", ""),
        sley_keeps=want.get("keeps", "ends"),
        off_on=None if off_in is None else today + timedelta(days=off_in),
    )


def _key(kind: type[Loom] | type[Reed], name: str | None, project: str) -> int | None:
    if name is None:
        return None
    found = kind.objects.filter(name=name).first()
    if found is None:
        raise EquipmentFileError(f"{EQUIPMENT_FILE}, wants of “{project}”: there is no “{name}”.")
    return found.pk
