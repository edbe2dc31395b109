"""Reading a project file: all of it is checked before anything is made of it, and each fault is named by its place."""

import json
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from projects.models import LossWay
from projects.models.project import PPM
from projects.models.shade import KEY
from projects.services.planning import Kits
from projects.sharing.form import (
    BEAM,
    FIBRE,
    FORMAT,
    GROUPS,
    HEAD,
    MOST_BYTES,
    MOST_SHADES,
    MOST_WHOLE,
    SHADE,
    TOP,
    VERSION,
    YARN,
    Value,
)
from stash.calc.accents import read_accents
from stash.calc.beams import MOST_BEAMS, Beam
from stash.calc.colour_order import Order, read_order
from stash.calc.density import Density
from stash.calc.draft import interlacing
from stash.calc.errors import CalcError
from stash.calc.fringe import Fringe
from stash.calc.grist import Grist
from stash.calc.hems import Hem
from stash.calc.needs import WorkedPlan, work_out
from stash.calc.plan import Plan
from stash.calc.selvedges import Selvedges
from stash.models.yarn import HEX_COLOUR
from stash.services.refusal import Refusal

MOST_FIBRES = 20


@dataclass(frozen=True, slots=True)
class ShadeInFile:
    """How the file describes a shade: enough to find it, or one that is near it."""

    key: str
    name: str
    colour: str
    yarn: str
    count: str
    grist: Grist
    fibres: Mapping[str, int]
    """Percent by fibre."""


@dataclass(frozen=True, slots=True)
class ProjectInFile:
    name: str
    piece_name: str
    note: str
    structure: str
    draft: Mapping[str, str]
    plan: Plan
    loss_way: str
    kits: Kits
    loom: Mapping[str, Any]
    """dressing, sley, sley_keeps, at_once."""
    shades: tuple[ShadeInFile, ...]
    worked: WorkedPlan


def too_large() -> Refusal:
    return Refusal(
        f"This file has more than {MOST_BYTES // 1000} kB: no project file is so large.", field="file"
    )


def read_project_file(data: bytes | str) -> ProjectInFile:
    """Raises Refusal, whose message says what is wrong and where."""
    try:
        return _read(data)
    except Refusal as error:
        raise Refusal(error.message, field="file") from error
    except CalcError as error:
        where = f" (plan, {error.field})" if error.field else ""
        raise Refusal(
            f"The plan in this file cannot be woven{where}: {error.message}", field="file"
        ) from error


def _read(data: bytes | str) -> ProjectInFile:
    found = _parsed(data)
    if found.get("format") != FORMAT:
        raise Refusal(f"This is no project file: it does not say “{FORMAT}” as its format.")
    version = found.get("version")
    if type(version) is not int or version < 1:
        raise Refusal(f"The file says no version that is known. Accepted: {VERSION}.")
    if version > VERSION:
        raise Refusal(
            f"This file was written by a newer Warpshelf: its version is {version}, this one reads version {VERSION}. "
            "Update Warpshelf, or ask for the plan as a printed sheet."
        )
    _names(found, TOP, "the file")
    head = _group(HEAD, {value.name: found[value.name] for value in HEAD}, "")
    groups = {
        name: _group(values, _object(found[name], values, name), f"{name}.")
        for name, values in GROUPS.items()
    }
    shades = tuple(_shades(found["shades"]))
    kits = Kits(**groups["kits"])
    plan = _plan(groups["plan"], kits, _beams(found["beams"]))
    worked = work_out(plan)
    interlacing(head["structure"], **groups["draft"])
    if len(worked.needs) > MOST_SHADES:
        raise Refusal(f"The plan uses more than {MOST_SHADES} keys.")
    return ProjectInFile(
        name=_not_empty(head["name"], "name"),
        piece_name=head["pieces_are"] or "pieces",
        note=head["note"],
        structure=head["structure"],
        draft=groups["draft"],
        plan=plan,
        loss_way=LossWay.SPLIT if len(plan.losses_across) == 2 else LossWay.SIMPLE,
        kits=kits,
        loom=groups["loom"],
        shades=shades,
        worked=worked,
    )


def _parsed(data: bytes | str) -> dict[str, Any]:
    if len(data) > MOST_BYTES:
        raise too_large()
    try:
        text = data.decode("utf-8-sig") if isinstance(data, bytes) else data
        found = json.loads(text, object_pairs_hook=_once, parse_constant=_no_constant)
    except Refusal:
        raise
    except (ValueError, RecursionError) as error:
        raise Refusal("This is no project file: it is no text in JSON.") from error
    if not isinstance(found, dict):
        raise Refusal(f"This is no project file: it does not say “{FORMAT}” as its format.")
    return found


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise Refusal("The file says one name twice in the same place.")
    return found


def _no_constant(word: str) -> Any:
    raise Refusal(f"The file holds {word}, which is no number.")


def _names(found: Mapping[str, Any], wanted: Iterable[str], where: str) -> None:
    wanted = tuple(wanted)
    if absent := [name for name in wanted if name not in found]:
        raise Refusal(f"In {where} is missing: {', '.join(absent[:5])}.")
    if strange := [name for name in found if name not in wanted]:
        raise Refusal(
            f"In {where} stands what version {VERSION} does not know: {', '.join(strange[:5])[:200]}."
        )


def _object(found: Any, values: Iterable[Value], where: str, also: tuple[str, ...] = ()) -> dict[str, Any]:
    if not isinstance(found, dict):
        raise Refusal(f"{where}: an object with names belongs here.")
    _names(found, (*(value.name for value in values), *also), where)
    return found


def _list(found: Any, where: str, most: int) -> list[Any]:
    if not isinstance(found, list):
        raise Refusal(f"{where}: a list belongs here.")
    if len(found) > most:
        raise Refusal(f"{where}: at most {most} are accepted.")
    return found


def _group(values: Iterable[Value], found: Mapping[str, Any], before: str) -> dict[str, Any]:
    return {
        value.name: _READ[value.kind](value, found[value.name], f"{before}{value.name}") for value in values
    }


def _whole(value: Value, found: Any, where: str) -> int:
    if type(found) is not int or not value.least <= found <= value.most:
        limits = f" from {value.least:,} to {value.most:,}" if value.most < MOST_WHOLE else " of at least 0"
        raise Refusal(f"{where}: a whole number{limits} belongs here.")
    return found


def _flag(value: Value, found: Any, where: str) -> bool:
    if type(found) is not bool:
        raise Refusal(f"{where}: true or false belongs here.")
    return found


def _text(value: Value, found: Any, where: str) -> str:
    if not isinstance(found, str):
        raise Refusal(f"{where}: a text belongs here.")
    if len(found) > value.most:
        raise Refusal(f"{where}: a text of at most {value.most:,} characters belongs here.")
    allowed = "\n\t\r" if value.kind == "lines" else ""
    if any(unicodedata.category(sign) in ("Cc", "Cs") and sign not in allowed for sign in found):
        raise Refusal(f"{where}: the text holds a sign that cannot be shown.")
    return found.strip()


def _word(value: Value, found: Any, where: str) -> str:
    if found not in value.words or not isinstance(found, str):
        raise Refusal(f"{where}: one of {', '.join(value.words)} belongs here.")
    return found


def _share(value: Value, found: Any, where: str) -> Fraction:
    share = _fraction(found, where)
    if not 0 <= share <= 1 or (share * PPM).denominator != 1:
        raise Refusal(f"{where}: a share from 0 to 1 in whole millionths belongs here, as [1, 10].")
    return share


def _shares(value: Value, found: Any, where: str) -> tuple[Fraction, ...]:
    shares = _list(found, where, 2)
    if not shares:
        raise Refusal(f"{where}: one share or two belong here, as [[1, 10]].")
    return tuple(_share(value, share, f"{where}[{at}]") for at, share in enumerate(shares))


def _fraction(found: Any, where: str) -> Fraction:
    if (
        not isinstance(found, list)
        or len(found) != 2
        or any(type(part) is not int or abs(part) > MOST_WHOLE for part in found)
        or found[1] < 1
    ):
        raise Refusal(f"{where}: a fraction belongs here, as two whole numbers: [1, 10].")
    return Fraction(*found)


def _density(value: Value, found: Any, where: str) -> Density | None:
    if found is None and value.kind == "density or null":
        return None
    if not isinstance(found, dict) or set(found) != {"count", "per_um"}:
        raise Refusal(f'{where}: so many to a length belong here, as {{"count": [18, 1], "per_um": 25400}}.')
    per_um = found["per_um"]
    if type(per_um) is not int or not 1 <= per_um <= 10**9:
        raise Refusal(f"{where}.per_um: a length in whole micrometres belongs here.")
    return Density(_fraction(found["count"], f"{where}.count"), per_um)


def _grist(value: Value, found: Any, where: str) -> Grist:
    share = _fraction(found, where)
    if share <= 0:
        raise Refusal(
            f"{where}: a length in micrometres and its mass in milligrams belong here, both above 0."
        )
    return Grist(*found)


_READ: dict[str, Callable[[Value, Any, str], Any]] = {
    "whole": _whole,
    "flag": _flag,
    "text": _text,
    "lines": _text,
    "word": _word,
    "share": _share,
    "shares": _shares,
    "density": _density,
    "density or null": _density,
    "grist": _grist,
}


def _not_empty(text: str, where: str) -> str:
    if not text:
        raise Refusal(f"{where}: a text belongs here, and it is empty.")
    return text


def _shades(found: Any) -> Iterable[ShadeInFile]:
    keys: set[str] = set()
    for at, one in enumerate(_list(found, "shades", MOST_SHADES)):
        where = f"shades[{at}]"
        shade = _group(SHADE, _object(one, SHADE, where, ("yarn",)), f"{where}.")
        yarn_in = _object(one["yarn"], YARN, f"{where}.yarn", ("fibres",))
        yarn = _group(YARN, yarn_in, f"{where}.yarn.")
        fibres = [
            _group(
                FIBRE,
                _object(fibre, FIBRE, f"{where}.yarn.fibres[{number}]"),
                f"{where}.yarn.fibres[{number}].",
            )
            for number, fibre in enumerate(_list(yarn_in["fibres"], f"{where}.yarn.fibres", MOST_FIBRES))
        ]
        key = shade["key"]
        if not KEY.regex.match(key) or key in keys:
            raise Refusal(f"{where}.key: a key of one or two capital letters belongs here, each once.")
        if shade["colour"] and not HEX_COLOUR.regex.match(shade["colour"]):
            raise Refusal(f"{where}.colour: a colour as #2f5d50 belongs here, or nothing.")
        keys.add(key)
        yield ShadeInFile(
            key=key,
            name=_not_empty(shade["name"], f"{where}.name"),
            colour=shade["colour"],
            yarn=_not_empty(yarn["name"], f"{where}.yarn.name"),
            count=yarn["count"],
            grist=yarn["grist"],
            fibres={fibre["name"]: fibre["percent"] for fibre in fibres},
        )


def _beams(found: Any) -> tuple[Beam, ...]:
    beams = []
    for at, one in enumerate(_list(found, "beams", MOST_BEAMS - 1)):
        where = f"beams[{at}]"
        beam = _group(BEAM, _object(one, BEAM, where, ("keys",)), f"{where}.")
        keys = _list(one["keys"], f"{where}.keys", MOST_SHADES)
        if not keys or any(not isinstance(key, str) or not KEY.regex.match(key) for key in keys):
            raise Refusal(f"{where}.keys: the keys that are wound on this beam belong here, such as B.")
        beams.append(Beam(beam["number"], beam["take_up"], tuple(sorted(keys))))
    return tuple(beams)


def _plan(of: Mapping[str, Any], kits: Kits, beams: tuple[Beam, ...]) -> Plan:
    if len(of["losses_across"]) != len(of["losses_along"]):
        raise Refusal(
            "plan.losses_along: as many losses as in losses_across belong here, one or two of each."
        )
    apart = {
        "hem": Hem(
            of["hem_kind"],
            of["hem_depth_um"],
            of["hem_fold_um"],
            of["hem_picks"],
            _order(of, "hem_pick_order", "picks"),
        ),
        "fringe": Fringe(of["fringe_um"], of["fringe_loss"], of["fringe_twisted"], of["fringe_knot_um"]),
        "selvedges": Selvedges(
            of["floating_selvedges"], of["floating_key"], of["doubled_ends"], of["doubled_way"]
        ),
        "order": _order(of, "order", "ends", empty=False),
        "pick_order": _order(of, "pick_order", "picks", empty=False),
        "border": _order(of, "border", "ends"),
        "accents": read_accents(of["accents"]),
    }
    same = {name: found for name, found in of.items() if name in Plan.__slots__ and name not in apart}
    return Plan(**same, **apart, warps=kits.warps, beams=beams)


def _order(of: Mapping[str, Any], name: str, word: str, *, empty: bool = True) -> Order | None:
    if not of[name] and empty:
        return None
    try:
        return read_order(of[name], word=word)
    except CalcError as error:
        raise Refusal(f"plan.{name}: {error.message}") from error
