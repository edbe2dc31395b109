"""What a project of the demo says of its edges and ends, as a person would type it; most say nothing."""

from __future__ import annotations

from typing import Any, Protocol

from stash.calc.accents import read_accents
from stash.calc.colour_order import read_order
from stash.calc.errors import CalcError
from stash.calc.fringe import Fringe
from stash.calc.hems import Hem, HemKind
from stash.calc.quantity import read_density, read_length, read_percent, read_whole
from stash.calc.selvedges import Selvedges

HEM_KINDS: tuple[HemKind, ...] = ("given", "single", "double", "small", "strip")


class Entry(Protocol):
    """An entry of the demo's files, as far as it is read here."""

    def read(self, key: str, reader: Any, default: str | None = None) -> Any: ...
    def maybe(self, key: str, reader: Any) -> Any: ...
    def flag(self, key: str) -> bool: ...


def edges_of(entry: Entry) -> dict[str, Any]:
    """The plan's own words for it."""
    return {
        "hem": Hem(
            entry.read("hem_kind", _hem_kind, "given"),
            entry.read("hem_depth", read_length, "0 in"),
            entry.read("hem_fold", read_length, "0 in"),
            entry.maybe("hem_picks", read_density),
            entry.maybe("hem_order", _picks),
        ),
        "fringe": Fringe(
            entry.read("fringe", read_length, "0 in"),
            entry.read("fringe_loss", read_percent, "0 %"),
            entry.flag("fringe_twisted"),
            entry.read("fringe_knot", read_length, "0 in"),
        ),
        "waste_front_um": entry.read("waste_front", read_length, "0 in"),
        "selvedges": Selvedges(entry.flag("floating"), doubled_ends=entry.read("doubled", read_whole, "0")),
        "border": entry.maybe("border", read_order),
        "accents": entry.read("accents", read_accents, ""),
        "accent_way": "added" if entry.flag("accents_added") else "replaces",
        "whole_pick_repeats": entry.flag("whole_repeats"),
    }


def _hem_kind(text: str) -> HemKind:
    for kind in HEM_KINDS:
        if text == kind:
            return kind
    raise CalcError(f"A hem is one of {', '.join(HEM_KINDS)}.", field="hem_kind")


def _picks(text: str) -> Any:
    return read_order(text, word="picks")
