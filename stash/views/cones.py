"""Cones: adding, the weigh-in page, what is written about them, moving, retiring, the ledger."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from stash.access import HELPERS, HELPERS_ONLY, OWNERS, VIEWERS
from stash.calc.writing import Measures
from stash.forms import offers
from stash.forms.cones import ConeAddForm, ConeForm, MoveForm, ReasonForm, SendBackForm, WeighForm
from stash.forms.fields import MeasuredForm
from stash.measuring import measures_of
from stash.models import Cone, Entry, EntryKind, Form, Shade
from stash.models.cone import USABLE
from stash.services.cones import bring_back_cone, change_cone, move_cone, retire_cone
from stash.services.cores import kind_of
from stash.services.receiving import receive_cone_of
from stash.services.taking_in import line_awaiting
from stash.services.undoing import latest, why_not
from stash.services.weighing import FarBelow, weigh
from stash.tables.last_of import last_of
from stash.tables.paging import ROWS_A_PAGE
from stash.views.answers import asks_names, known_names, page, posted, served, tell_undercut

LAST_ENTRIES = 10
# Offered where a reason is asked for; any other may be typed.
MORE_THAN_KNOWN = ("wound back", "damp", "core was wrong")
OFF_THE_SHELF = ("empty", "given away", "sold", "moth", "thrown out")
_CONE_NAMES = {"core_mg": "core"}
_ADD_NAMES = {"core_mg": "core", "name": "shade", "yarn": "yarn"}


@OWNERS
def cone_add(request: HttpRequest) -> HttpResponse:
    if asks_names(request):
        return known_names(request)
    yarns = offers.yarns_in_use()
    if not yarns:
        return page(request, "stash/cone_add_first.html", {})
    form = ConeAddForm(
        posted(request),
        initial=_preselected(request),
        yarns=yarns,
        cores=offers.core_kinds(),
        measures=measures_of(request.studio),
    )
    if request.method == "POST" and (cone := served(form, lambda: _receive(request, form), _ADD_NAMES)):
        return _added(request, form, cone)
    context = {
        "shade_names": offers.shade_names(form.chosen_yarn),
        "lot_names": offers.lots_of(form.chosen_yarn, form["shade"].value() or ""),
        "place_names": offers.place_names(),
    }
    return page(request, "stash/cone_add.html", context, form)


def _preselected(request: HttpRequest) -> dict[str, str]:
    """What the address says of the next cone: ?yarn= or ?shade= keys, and the lot and place of the last."""
    wanted = {name: request.GET[name][:40] for name in ("yarn", "lot", "place") if name in request.GET}
    shade_key = request.GET.get("shade", "")
    if shade_key.isdecimal() and len(shade_key) < 19:
        shade = Shade.objects.live().filter(pk=int(shade_key)).first()
        if shade:
            wanted |= {"yarn": str(shade.yarn_id), "shade": shade.name}
    return {"scale": "net", "form": Form.CONE} | wanted


def _receive(request: HttpRequest, form: ConeAddForm) -> Cone:
    said = form.cleaned_data
    return receive_cone_of(
        yarn_id=int(said["yarn"]),
        shade=said["shade"],
        colour=said["colour"],
        scale_mg=said["weight"],
        gross=said["scale"] == "gross",
        core_mg=said["core"],
        core_kind=kind_of(said["core_kind"]),
        lot=said["lot"],
        form=said["form"] or Form.CONE,
        place=said["place"],
        code=said["code"],
        note=said["note"],
        by=request.user,
    )


def _added(request: HttpRequest, form: ConeAddForm, cone: Cone) -> HttpResponse:
    measures = measures_of(request.studio)
    length = measures.long_length(cone.shade.yarn.grist.length_um_of(cone.on_hand_mg), "down")
    first = f" It is the first cone of {cone.shade.name}." if cone.shade.cones.count() == 1 else ""
    messages.success(
        request,
        f"Cone {cone.code} is on the shelf: {measures.mass(cone.on_hand_mg)} of {cone.shade.name}, {length}.{first}",
    )
    if "again" not in request.POST:
        return redirect("cone-page", cone.pk)
    kept = {"shade": cone.shade_id, "lot": form.cleaned_data["lot"], "place": form.cleaned_data["place"]}
    return redirect(reverse("cone-add", query={name: value for name, value in kept.items() if value}))


@HELPERS
def cone_page(request: HttpRequest, pk: int) -> HttpResponse:
    cones = Cone.objects.with_names().select_related("delivery__supplier", "core_kind")
    cone = get_object_or_404(cones, pk=pk)
    measures = measures_of(request.studio)
    form = WeighForm(posted(request), cone=cone, measures=measures)
    if request.method == "POST" and (entry := served(form, lambda: _weigh(request, form, cone))):
        _tell_weighed(request, entry, cone, measures)
        return redirect("cone-page", pk)
    entries = list(cone.entries.select_related("by")[: LAST_ENTRIES + 1])
    last_standing = latest(cone) if not cone.retired_at else None
    if last_standing:
        last_standing.cone = cone
    context = {
        "cone": cone,
        "shade": cone.shade,
        "yarn": cone.shade.yarn,
        "held": list(cone.reservations.by_need()),
        "first": cone.entries.order_by("pk").first() if cone.labelled_mg else None,
        "is_usable": cone.condition in USABLE,
        "last_standing": last_standing,
        "not_taken_back": why_not(last_standing, request.user) if last_standing else "",
        "entries": entries[:LAST_ENTRIES],
        "has_more": len(entries) > LAST_ENTRIES,
        "last": entries[0] if entries else None,
        "before": entries[1] if len(entries) > 1 else None,
        "photo": cone.photos.last(),
        "reasons": MORE_THAN_KNOWN,
    }
    return page(request, "stash/cone_page.html", context, form)


def _weigh(request: HttpRequest, form: WeighForm, cone: Cone) -> Entry:
    how = "net" if request.POST.get("how") == "net" else "gross"
    try:
        return weigh(
            cone_id=cone.pk,
            scale_mg=form.cleaned_data["scale"],
            gross=how == "gross",
            by=request.user,
            reason=form.cleaned_data["reason"],
            core_mg=form.cleaned_data.get("core"),
            is_estimate=form.cleaned_data["about"],
            is_sure=form.is_sure(how),
        )
    except FarBelow as error:
        raise form.ask_again(error, how) from error


def _tell_weighed(request: HttpRequest, entry: Entry, cone: Cone, measures: Measures) -> None:
    length = measures.long_length(cone.shade.yarn.grist.length_um_of(entry.after_mg), "down")
    change = measures.mass(entry.change_mg)
    sign = "+" if entry.change_mg > 0 else ""
    messages.success(
        request,
        f"{cone.code} holds {measures.mass(entry.after_mg)} of yarn, {length}. Change: {sign}{change}.",
    )
    cone.on_hand_mg = entry.after_mg
    tell_undercut(request, cone, measures)


@OWNERS
def cone_edit(request: HttpRequest, pk: int) -> HttpResponse:
    cone = get_object_or_404(Cone.objects.with_names(), pk=pk)
    measures = measures_of(request.studio)
    form = ConeForm(
        posted(request), initial=ConeForm.texts_of(cone), cores=offers.core_kinds(), measures=measures
    )
    if request.method == "POST" and (
        changed := served(form, lambda: _change(request, form, pk), _CONE_NAMES)
    ):
        messages.success(request, f"Cone {changed.code} is changed.")
        if changed.on_hand_mg < cone.on_hand_mg:
            tell_undercut(request, changed, measures)
        return redirect("cone-page", pk)
    context = {
        "cone": cone,
        "lot_names": offers.lot_names(cone.shade_id),
        "place_names": offers.place_names(),
    }
    return page(request, "stash/cone_form.html", context, form)


def _change(request: HttpRequest, form: ConeForm, pk: int) -> Cone:
    said = form.cleaned_data
    return change_cone(
        pk=pk,
        version=said["version"] or 0,
        code=said["code"],
        lot=said["lot"],
        form=said["form"],
        core_mg=said["core"],
        core_kind=kind_of(said["core_kind"]),
        place=said["place"],
        note=said["note"],
        by=request.user,
    )


@HELPERS_ONLY
def cone_move(request: HttpRequest, pk: int) -> HttpResponse:
    cone = get_object_or_404(Cone.objects.with_names(), pk=pk)
    initial = {"place": cone.place.name if cone.place else ""}
    form = MoveForm(posted(request), initial=initial, measures=measures_of(request.studio))
    if request.method == "POST" and (
        moved := served(form, lambda: move_cone(pk=pk, place=form.cleaned_data["place"], by=request.user))
    ):
        where = f"stands on {moved.place} now" if moved.place else "has no place now"
        messages.success(request, f"Cone {moved.code} {where}.")
        return redirect("cone-page", pk)
    return page(request, "stash/cone_move.html", {"cone": cone, "place_names": offers.place_names()}, form)


@OWNERS
def cone_retire(request: HttpRequest, pk: int) -> HttpResponse:
    """Take it off the shelf, or bring it back: the page says beforehand what that does."""
    cone = get_object_or_404(Cone.objects.with_names(), pk=pk)
    back = cone.retired_at is not None
    measures = measures_of(request.studio)
    reason_form = SendBackForm if cone.order_line_id else ReasonForm
    form: MeasuredForm = (MeasuredForm if back else reason_form)(posted(request), measures=measures)

    def write() -> Any:
        if back:
            return bring_back_cone(pk=pk, by=request.user)
        said = form.cleaned_data
        return retire_cone(
            pk=pk, by=request.user, reason=said["reason"], is_awaited=said.get("is_awaited", False)
        )

    awaiting = line_awaiting(cone) if back else None
    if request.method == "POST" and (kept := served(form, write)):
        where = "back on the shelf" if back else "retired"
        if back and kept.order_line_id != cone.order_line_id:
            where += f", and {str(kept.order_line.order).lower()} awaits it no more"
        messages.success(request, f"Cone {cone.code} is {where}.")
        return redirect("cone-page", pk)
    last = cone.entries.first()
    written_off_mg = -last.change_mg if last and last.kind == EntryKind.RETIRED else 0
    context = {
        "cone": cone,
        "shade": cone.shade,
        "yarn": cone.shade.yarn,
        "back": back,
        "awaiting": awaiting,
        "held": list(cone.reservations.by_need()),
        "written_off_mg": written_off_mg,
        "reasons": OFF_THE_SHELF,
    }
    if cone.shade.no_more_on and cone.on_hand_mg and not back:
        context["last_of"] = last_of(cone.shade, measures)
    return page(request, "stash/cone_retire.html", context, form)


@VIEWERS
def cone_ledger(request: HttpRequest, pk: int) -> HttpResponse:
    cone = get_object_or_404(Cone.objects.with_names(), pk=pk)
    entries = Paginator(cone.entries.select_related("by"), ROWS_A_PAGE).get_page(request.GET.get("page"))
    return page(request, "stash/cone_ledger.html", {"cone": cone, "entries": entries})
