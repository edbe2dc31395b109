"""One step for all rows that are ticked on the Yarn page.

The ticks lead to a page that says what will happen to each row, and which refuse and why; the button there does all or
nothing. A row that refuses comes with its tick taken out: the rest can go on without it.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qsl, urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse

from stash.access import HELPERS_ONLY, OWNERS
from stash.calc.writing import Measures
from stash.forms import bulk as forms
from stash.forms import offers
from stash.forms.fields import MeasuredForm
from stash.measuring import measures_of
from stash.models import Cone, Shade
from stash.services import bulk
from stash.services.bulk import SomeRefused
from stash.views.answers import REFUSED, key_in, posted, served
from stash.views.cones import OFF_THE_SHELF

NOUNS = {"cone": ("cone", "cones"), "shade": ("shade", "shades")}


@dataclass(frozen=True, slots=True)
class Line:
    """One ticked row: what will happen to it, or why not."""

    pk: int
    name: str
    about: str
    colour: str
    href: str
    will: str
    refused: str
    ticked: bool


@dataclass(frozen=True, slots=True)
class Step:
    """A step for many: its words, what it asks, what it does to each and what refuses."""

    key: str
    title: str
    button: str
    done: str
    form: type[MeasuredForm]
    write: Callable[[HttpRequest, list[int], dict[str, Any]], int]
    will: Callable[[Any, Measures], str]
    why_not: Callable[[Iterable[Any]], dict[int, str]]
    is_danger: bool = False
    reasons: tuple[str, ...] = ()

    @property
    def ticks(self) -> str:
        """The name of the boxes, in the list as on the step's page."""
        return f"{self.key}s"


def _go(request: HttpRequest, step: Step) -> HttpResponse:
    measures = measures_of(request.studio)
    asked = request.POST if request.method == "POST" else request.GET
    chosen = list(dict.fromkeys(key for text in asked.getlist(step.ticks) if (key := key_in(text))))
    # A page keeps all rows in sight, also those whose tick was taken out before the button.
    shown = list(dict.fromkeys(key for text in asked.getlist("shown") if (key := key_in(text)))) or chosen
    rows = _rows(step.key, shown[: bulk.MOST])
    back = _back(asked)
    form = step.form(posted(request), measures=measures)
    if request.method == "POST":
        if not chosen:
            form.full_clean()
            form.add_error(None, f"No {step.key} is ticked. Tick those that are meant, or leave it.")
        elif len(chosen) > bulk.MOST:
            form.full_clean()
            form.add_error(None, f"At most {bulk.MOST} at once.")
        elif (count := served(form, lambda: _write(request, step, chosen, form))) is not None:
            messages.success(request, f"{count} {NOUNS[step.key][count != 1]} {step.done}.")
            return redirect(back)
    refused = step.why_not(rows)
    lines = [_line(step, row, measures, refused.get(row.pk, ""), row.pk in chosen) for row in rows]
    context = {
        "section": "yarn",
        "step": step,
        "form": form,
        "lines": lines,
        "able": sum(not line.refused for line in lines),
        "noun": NOUNS[step.key][len(lines) != 1],
        "back": back,
        "back_query": back.partition("?")[2],
        "place_names": offers.place_names() if "place" in form.fields else (),
        "most": bulk.MOST if len(shown) > bulk.MOST else 0,
    }
    status = REFUSED if form.is_bound and form.errors else 200
    return render(request, "stash/bulk.html", context, status=status)


def _write(request: HttpRequest, step: Step, chosen: list[int], form: MeasuredForm) -> int | None:
    try:
        return step.write(request, chosen, form.cleaned_data)
    except SomeRefused as error:
        for reason in error.reasons:
            form.add_error(None, reason)
        return None


def _back(asked: QueryDict) -> str:
    """The list as it was left, by its query alone: no other address can be led to from here."""
    query = urlencode([pair for pair in parse_qsl(asked.get("back", "")[:500]) if pair[0] != "page"])
    return reverse("yarn") + (f"?{query}" if query else "")


def _rows(key: str, pks: list[int]) -> list[Any]:
    if key == "shade":
        return list(
            Shade.objects.filter(pk__in=pks).select_related("yarn").with_stock().order_by("search", "pk")
        )
    cones = Cone.objects.filter(pk__in=pks).with_names().prefetch_related("reservations__claim")
    return list(cones.order_by("search", "pk"))


def _line(step: Step, row: Any, measures: Measures, refused: str, ticked: bool) -> Line:
    shade = row if step.key == "shade" else row.shade
    yarn = shade.yarn.count_written or shade.yarn.name
    return Line(
        pk=row.pk,
        name=str(row),
        about=yarn if step.key == "shade" else f"{shade.name}, {yarn}",
        colour=shade.colour,
        href=reverse(f"{step.key}-page", args=[row.pk]),
        will="" if refused else step.will(row, measures),
        refused=refused,
        ticked=ticked and not refused,
    )


def _from(cone: Cone, measures: Measures) -> str:
    return f"moves from {cone.place}" if cone.place else "gets a place"


def _written_off(cone: Cone, measures: Measures) -> str:
    return f"{measures.mass(cone.on_hand_mg)} written off, leaves the shelf"


def _condition_now(cone: Cone, measures: Measures) -> str:
    return f"is {cone.get_condition_display()} now"


def _keep_now(shade: Shade, measures: Measures) -> str:
    level = f"keep level now {measures.mass(shade.keep_mg)}" if shade.keep_mg else "no keep level now"
    return f"{level}, one put-up more" if shade.one_more else level


MOVE = Step(
    key="cone",
    title="Move cones",
    button="Move them",
    done="moved",
    form=forms.MoveForm,
    write=lambda request, pks, said: bulk.move_cones(pks=pks, place=said["place"], by=request.user),
    will=_from,
    why_not=bulk.why_not_move,
)
CONDITION = Step(
    key="cone",
    title="Note the condition of cones",
    button="Note it of them",
    done="noted so",
    form=forms.ConditionForm,
    write=lambda request, pks, said: bulk.note_condition(
        pks=pks, condition=said["condition"], on=said["on"], reason=said["reason"], by=request.user
    ),
    will=_condition_now,
    why_not=bulk.why_not_move,
)
RETIRE_CONES = Step(
    key="cone",
    title="Retire cones",
    button="Retire them",
    done="retired",
    form=forms.ReasonForm,
    write=lambda request, pks, said: bulk.retire_cones(pks=pks, reason=said["reason"], by=request.user),
    will=_written_off,
    why_not=bulk.why_not_retire,
    is_danger=True,
    reasons=OFF_THE_SHELF,
)
KEEP = Step(
    key="shade",
    title="Set keep levels",
    button="Set it for them",
    done="set",
    form=forms.KeepForm,
    write=lambda request, pks, said: bulk.set_keep_levels(
        pks=pks, keep_mg=said["keep"], one_more=said["one_more"]
    ),
    will=_keep_now,
    why_not=bulk.why_not_keep,
)
RETIRE_SHADES = Step(
    key="shade",
    title="Retire shades",
    button="Retire them",
    done="retired",
    form=forms.SureForm,
    write=lambda request, pks, said: bulk.retire_shades(pks=pks),
    will=lambda shade, measures: "leaves the lists",
    why_not=bulk.why_not_retire_shades,
    is_danger=True,
)


@HELPERS_ONLY
def cones_move(request: HttpRequest) -> HttpResponse:
    return _go(request, MOVE)


@HELPERS_ONLY
def cones_condition(request: HttpRequest) -> HttpResponse:
    return _go(request, CONDITION)


@OWNERS
def cones_retire(request: HttpRequest) -> HttpResponse:
    return _go(request, RETIRE_CONES)


@OWNERS
def shades_keep(request: HttpRequest) -> HttpResponse:
    return _go(request, KEEP)


@OWNERS
def shades_retire(request: HttpRequest) -> HttpResponse:
    return _go(request, RETIRE_SHADES)
