"""The list of all equipment, with what is on it: it stands here because it knows projects."""

from dataclasses import dataclass
from itertools import chain

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from projects.gear import Span, spans
from stash.access import VIEWERS
from stash.models import Board, Loom, Reed, Tool
from stash.models.equipment import Equipment


@dataclass(frozen=True, slots=True)
class LoomRow:
    loom: Loom
    on_it: list[Span]
    wanted: list[Span]

    @property
    def heddles(self) -> str:
        """All shafts alike said once: 120 each; else by shaft."""
        numbers = [row.number for row in self.loom.heddles.all()]
        if numbers and len(set(numbers)) == 1:
            return f"{numbers[0]} each"
        return ", ".join(map(str, numbers))


@dataclass(frozen=True, slots=True)
class ReedRow:
    reed: Reed
    on_it: list[Span]
    wanted: list[Span]


@dataclass(frozen=True, slots=True)
class Lent:
    kind: str
    thing: Equipment


@VIEWERS
def equipment(request: HttpRequest) -> HttpResponse:
    """Six queries: projects, looms, their heddles, reeds, boards, tools."""
    wants = spans()
    looms = list(Loom.objects.select_related("place").prefetch_related("heddles"))
    reeds = list(Reed.objects.select_related("place"))
    boards = list(Board.objects.select_related("place"))
    tools = list(Tool.objects.select_related("place").order_by("kind", "name"))
    named = [("looms", looms), ("reeds", reeds), ("boards", boards), ("tools", tools)]
    lent = [
        Lent(kind, thing)
        for kind, things in named
        for thing in things
        if thing.lent_to and not thing.retired_at
    ]
    gone = [Lent(kind, thing) for kind, things in named for thing in things if thing.retired_at]
    context = {
        "section": "equipment",
        "looms": [
            LoomRow(loom, *_parted([one for one in wants if one.loom_id == loom.pk])) for loom in _kept(looms)
        ],
        "reeds": sorted(
            (
                ReedRow(reed, *_parted([one for one in wants if one.reed_id == reed.pk]))
                for reed in _kept(reeds)
            ),
            key=lambda row: (row.reed.dents.per_micrometre, row.reed.length_um, row.reed.name),
        ),
        "boards": _kept(boards),
        "tools": _kept(tools),
        "lent": sorted(lent, key=lambda one: (one.thing.back_on is None, one.thing.back_on, one.thing.name)),
        "gone": gone,
        "anything": any(chain(looms, reeds, boards, tools)),
    }
    return render(request, "projects/equipment.html", context)


def _kept(things: list) -> list:
    return [thing for thing in things if not thing.retired_at]


def _parted(found: list[Span]) -> tuple[list[Span], list[Span]]:
    return [one for one in found if one.on_loom], [one for one in found if not one.on_loom]
