"""Fibre content as one line of text: `60 % cotton, 40 % linen`.

Shares are whole hundredths of the mass and add up to 100. A lone name is the whole of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from stash.calc.errors import CalcError
from stash.calc.regain import regain_of

MOST_CHARACTERS = 200
MOST_NAME = 40

_WANTED = "Give each fibre with its per cent, such as 60 % cotton, 40 % linen; or one name alone."
_PART = re.compile(r"[,;+\n]")
_SHARE_FIRST = re.compile(r"([0-9.]+)\s*%?\s*(.*)", re.DOTALL)
_SHARE_LAST = re.compile(r"(.*?)\s*([0-9.]+)\s*%?", re.DOTALL)


def read_fibres(text: str) -> dict[str, int]:
    """Fibre to whole per cent of the mass, in the order typed; {} for an empty text. Raises CalcError.

    `60 % cotton, 40 % linen`, `cotton 60%; linen 40%`, `cotton`. Names are kept in small letters.
    """
    if len(text) > MOST_CHARACTERS:
        raise CalcError(f"That is too long: at most {MOST_CHARACTERS} characters.", field="fibres")
    parts = [part.strip() for part in _PART.split(text)]
    if not any(parts):
        return {}
    shares: dict[str, int] = {}
    for part in parts:
        name, share = _read_part(part, alone=len(parts) == 1)
        if name in shares:
            raise CalcError(f"“{name}” stands there twice. Name each fibre once.", field="fibres")
        shares[name] = share
    total = sum(shares.values())
    if total != 100:
        raise CalcError(f"The fibres add up to {total} %. Together they must be 100 %.", field="fibres")
    return shares


def write_fibres(shares: Mapping[str, int]) -> str:
    """Text that `read_fibres` reads back to the same shares, and that people read."""
    if len(shares) == 1:
        return next(iter(shares))
    return ", ".join(f"{share} % {name}" for name, share in shares.items())


def _read_part(part: str, *, alone: bool) -> tuple[str, int]:
    if not part:
        raise CalcError(f"Between two commas a fibre is missing. {_WANTED}", field="fibres")
    first, last = _SHARE_FIRST.fullmatch(part), _SHARE_LAST.fullmatch(part)
    if first:
        figure, name = first[1], first[2]
    elif last:
        name, figure = last[1], last[2]
    elif alone:
        return _name(part, part), 100
    else:
        raise CalcError(f"How many per cent are “{part}”? {_WANTED}", field="fibres")
    return _name(name, part), _share(figure)


def _share(figure: str) -> int:
    if not figure.isdecimal():
        raise CalcError(
            f"“{figure}” is not a whole per cent. Give whole numbers that add up to 100.", field="fibres"
        )
    share = int(figure[:9])
    if not 1 <= share <= 100:
        raise CalcError(f"“{figure}” cannot be a share: give 1 to 100 %.", field="fibres")
    return share


def _name(name: str, part: str) -> str:
    name = " ".join(name.lower().split())
    if not name:
        raise CalcError(f"“{part}” names no fibre. {_WANTED}", field="fibres")
    for sign in name:
        if not (sign.isalpha() or sign in " -'’"):
            raise CalcError(f"“{sign}” cannot stand in the name of a fibre. {_WANTED}", field="fibres")
    if len(name) > MOST_NAME:
        raise CalcError(f"“{name}” is too long for a fibre: at most {MOST_NAME} letters.", field="fibres")
    return name


def has_animal_fibre(names: Iterable[str]) -> bool:
    """Is any of these fibres an animal's, so that moths may have come with it? What no table knows is taken for none."""
    return any(known.animal for known in map(regain_of, names) if known is not None)
