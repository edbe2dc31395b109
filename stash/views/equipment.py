"""Equipment: a new thing, its page, lending and taking away. The list of all, which knows projects, stands above."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.formats import date_format
from django.views.decorators.http import require_POST

from stash.access import HELPERS_ONLY, OWNERS, OWNERS_CHANGE
from stash.forms.equipment import FORMS, EquipmentForm, LendForm, LoomForm, ReedsForm, facts_of
from stash.measuring import measures_of
from stash.models import Place
from stash.models.equipment import Equipment
from stash.services.equipment import (
    KINDS,
    WORDS,
    NewReeds,
    add_reeds,
    lend,
    retire,
    save_equipment,
    take_back,
)
from stash.services.refusal import Refusal
from stash.views.answers import page, posted, served

_NAMES = {
    "weaving_width_um": "width",
    "waste_um": "waste",
    "waste_laced_um": "waste_laced",
    "waste_tied_on_um": "waste_tied_on",
    "longest_warp_um": "longest",
    "reed_height_um": "reed_height",
    "left_um": "left",
    "length_um": "length",
    "height_um": "height",
    "step_um": "step",
    "longest_um": "longest",
    "holds_mg": "holds",
    "narrowest_um": "narrowest",
    "widest_um": "widest",
}
_START: dict[str, dict[str, Any]] = {"tools": {"number": 1}}


@OWNERS
def equipment_new(request: HttpRequest, kind: str) -> HttpResponse:
    """A new thing of a kind; reeds several at once."""
    if kind == "reeds":
        return _new_reeds(request)
    form = _form_class(kind)(
        posted(request), measures=measures_of(request.studio), initial=_START.get(kind, {})
    )
    if request.method == "POST" and (made := served(form, lambda: _save(kind, form), _NAMES)):
        messages.success(request, f"{made.name} is noted.")
        return redirect("equipment")
    return _page(request, kind, None, form)


@OWNERS_CHANGE
def equipment_page(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    form_class = _form_class(kind)
    thing = _thing(kind, pk)
    form = form_class(
        posted(request), measures=measures_of(request.studio), initial=form_class.texts_of(thing)
    )
    if request.method == "POST" and (kept := served(form, lambda: _save(kind, form, pk), _NAMES)):
        messages.success(request, f"{kept.name} is kept.")
        return redirect("equipment")
    return _page(request, kind, thing, form)


@HELPERS_ONLY
def equipment_lend(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    _form_class(kind)
    thing = _thing(kind, pk)
    start = {"to": thing.lent_to, "back_on": thing.back_on}
    form = LendForm(posted(request), measures=measures_of(request.studio), initial=start)

    def write() -> Equipment:
        return lend(kind=kind, pk=pk, to=form.cleaned_data["to"], back_on=form.cleaned_data["back_on"])

    if request.method == "POST" and (lent := served(form, write)):
        until = f", to be back on {date_format(lent.back_on, 'j F')}" if lent.back_on else ""
        messages.success(request, f"{lent.name} is with {lent.lent_to}{until}.")
        return redirect("equipment")
    context = {"section": "equipment", "thing": thing, "kind": kind}
    return page(request, "stash/equipment_lend.html", context, form)


@HELPERS_ONLY
@require_POST
def equipment_back(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    _form_class(kind)
    thing = take_back(kind=kind, pk=_thing(kind, pk).pk)
    messages.success(request, f"{thing.name} is back.")
    return redirect("equipment")


@OWNERS
@require_POST
def equipment_retire(request: HttpRequest, kind: str, pk: int) -> HttpResponse:
    _form_class(kind)
    back = bool(request.POST.get("back"))
    try:
        thing = retire(kind=kind, pk=_thing(kind, pk).pk, back=back)
    except Refusal as error:
        messages.error(request, error.message)
        return redirect("equipment-page", kind, pk)
    messages.success(
        request,
        f"{thing.name} is in use again." if back else f"{thing.name} is kept no more and offered nowhere.",
    )
    return redirect("equipment")


def _new_reeds(request: HttpRequest) -> HttpResponse:
    measures = measures_of(request.studio)
    form = ReedsForm(posted(request), measures=measures)

    def write() -> list[Any]:
        cleaned = form.cleaned_data
        new = NewReeds(cleaned["dents"], cleaned["length"], cleaned["height"], cleaned["place"])
        return add_reeds(reeds=new, measures=measures)

    if request.method == "POST" and (made := served(form, write, _NAMES)):
        many = f"{len(made)} reeds are noted" if len(made) > 1 else "One reed is noted"
        messages.success(request, f"{many}: {'; '.join(reed.name for reed in made)}.")
        return redirect("equipment")
    return _page(request, "reeds", None, form)


def _save(kind: str, form: EquipmentForm, pk: int | None = None) -> Equipment:
    return save_equipment(
        kind=kind,
        pk=pk,
        version=form.cleaned_data["version"] or 0 if pk else None,
        values=form.values(),
        place=form.cleaned_data["place"],
        heddles=form.by_shaft if isinstance(form, LoomForm) else None,
    )


def _form_class(kind: str) -> type[EquipmentForm]:
    if kind not in FORMS:
        raise Http404
    return FORMS[kind]


def _thing(kind: str, pk: int) -> Any:
    found = KINDS[kind].objects.select_related("place")
    return get_object_or_404(found.prefetch_related("heddles") if kind == "looms" else found, pk=pk)


def _page(request: HttpRequest, kind: str, thing: Any, form: Any) -> HttpResponse:
    measures = measures_of(request.studio)
    context = {
        "section": "equipment",
        "kind": kind,
        "word": WORDS[kind],
        "thing": thing,
        "places": Place.objects.order_by("name").values_list("name", flat=True),
        "facts": facts_of(thing, measures) if thing and not request.user.may_change else [],
    }
    return page(request, "stash/equipment_form.html", context, form)
