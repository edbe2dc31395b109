"""One search over all that has a name: shades, lots, cones, places, projects.

Of each at most `MOST`, by one query each, so that a search costs the same however full the shelf is.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import Q
from django.urls import reverse

from projects.models import Project
from stash.calc.writing import Measures
from stash.models import Cone, Lot, Place, Shade
from stash.models.folding import fold, words_of

MOST = 10


@dataclass(frozen=True, slots=True)
class Found:
    """One thing found. `colour` is None for what has none, "" for a shade without a colour value."""

    name: str
    href: str
    about: str = ""
    colour: str | None = None


@dataclass(frozen=True, slots=True)
class Group:
    """Things of one kind; `more` is where the rest stands, if there is a rest."""

    title: str
    found: list[Found]
    more: str = ""


def find(text: str, measures: Measures) -> list[Group]:
    """The kinds of which something was found, in the order in which a page shows them."""
    shelf = f"{reverse('yarn')}?{urlencode({'q': text})}"
    groups = [
        _group("Shades", _shades(text), lambda shade: _shade(shade, measures), shelf),
        _group("Dye lots", _lots(text), _lot),
        _group("Cones", _cones(text), lambda cone: _cone(cone, measures), shelf),
        _group("Places", _places(text), _place),
        _group("Projects", _projects(text), _project, reverse("projects")),
    ]
    return [group for group in groups if group.found]


def _group(title: str, rows: Any, write: Callable[[Any], Found], more: str = "") -> Group:
    rows = list(rows[: MOST + 1])
    return Group(title, [write(row) for row in rows[:MOST]], more if len(rows) > MOST else "")


def _shades(text: str) -> Any:
    return Shade.objects.live().matching(text).with_stock().select_related("yarn").order_by("name", "pk")


def _lots(text: str) -> Any:
    """Every word in the lot's name or its shade's, and at least one in the lot's own."""
    words = text.split()
    found = Lot.objects.select_related("shade__yarn").order_by("name", "pk")
    for word in words:
        found = found.filter(Q(name__icontains=word) | Q(shade__search__contains=fold(word)))
    return found.filter(_any_of("name", words))


def _cones(text: str) -> Any:
    """Those of which a code has one of the words, or the note all of them."""
    noted = Q()
    for word in words_of(text):
        noted &= Q(note_folded__contains=word)
    named = _any_of("code", text.split())
    return Cone.objects.live().with_names().filter(named | noted if noted else named).order_by("pk")


def _places(text: str) -> Any:
    return Place.objects.filter(name__icontains=text.strip())


def _projects(text: str) -> Any:
    found = Project.objects.no_trials().order_by("closed_at", "name", "pk")
    for word in words_of(text):
        found = found.filter(Q(search__contains=word) | Q(note_folded__contains=word))
    return found


def _any_of(field: str, words: Iterable[str]) -> Q:
    wanted = Q()
    for word in words:
        wanted |= Q(**{f"{field}__icontains": word})
    return wanted


def _shade(shade: Any, measures: Measures) -> Found:
    about = f"{shade.yarn}, {measures.mass(shade.free_mg, 'down')} free"
    if shade.on_order_mg:
        about += f", {measures.mass(shade.on_order_mg)} on order"
    return Found(shade.name, reverse("shade-page", args=[shade.pk]), about, shade.colour)


def _lot(lot: Lot) -> Found:
    return Found(
        f"Lot {lot.name}",
        reverse("shade-page", args=[lot.shade_id]),
        f"{lot.shade}, {lot.shade.yarn}",
        lot.shade.colour,
    )


def _cone(cone: Cone, measures: Measures) -> Found:
    parts = [f"{cone.shade}, {cone.shade.yarn}", f"{measures.mass(cone.on_hand_mg, 'down')} on hand"]
    if cone.place:
        parts.append(str(cone.place))
    return Found(cone.code, reverse("cone-page", args=[cone.pk]), ", ".join(parts), cone.shade.colour)


def _place(place: Place) -> Found:
    return Found(place.name, f"{reverse('yarn')}?{urlencode({'place': place.pk})}", "what stands there")


def _project(project: Project) -> Found:
    parts = [project.occasion] if project.occasion else []
    if project.closed_at:
        parts.append("put away")
    return Found(project.name, reverse("project-page", args=[project.pk]), ", ".join(parts))
