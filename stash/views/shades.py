"""Shades."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from stash.access import OWNERS, VIEWERS
from stash.forms.fields import MeasuredForm
from stash.forms.yarns import NoMoreForm, ShadeForm
from stash.measuring import measures_of
from stash.models import Cone, Reservation, Shade, Yarn
from stash.services.yarns import retire_shade, save_shade, say_no_more_made
from stash.tables.last_of import last_of
from stash.tables.lots import by_lot
from stash.tables.shades import ShadeData
from stash.views.answers import page, posted, served


@OWNERS
def shade_new(request: HttpRequest, yarn_pk: int) -> HttpResponse:
    yarn = get_object_or_404(Yarn, pk=yarn_pk)
    form = ShadeForm(posted(request), measures=measures_of(request.studio))
    if request.method == "POST" and (
        shade := served(form, lambda: save_shade(yarn_id=yarn.pk, **form.facts()))
    ):
        messages.success(
            request, f"{shade.name} is a shade of {yarn.name} now. No cone of it is on the shelf yet."
        )
        return redirect("shade-page", shade.pk)
    return page(request, "stash/shade_form.html", {"yarn": yarn}, form)


@VIEWERS
def shade_page(request: HttpRequest, pk: int) -> HttpResponse:
    shade = get_object_or_404(Shade.objects.select_related("yarn"), pk=pk)
    data = ShadeData(Shade.objects.filter(pk=pk).with_stock(), measures_of(request.studio))
    cones = Cone.objects.filter(shade=shade).select_related("lot", "place")
    held = list(Reservation.objects.filter(cone__shade=shade).by_need().select_related("claim", "cone"))
    context = {
        "shade": shade,
        "shade_key": str(pk),
        "yarn": shade.yarn,
        "line": data[:][0],
        "sums": data.data[0],
        "lots": by_lot(cones.live(), held),
        "gone": cones.retired().order_by("-retired_at")[:10],
        "held": held,
        "photo": shade.photos.last(),
        "awaited": shade.order_lines.awaited().by_due_day() if data.data[0].on_order_mg else (),
        "day": timezone.localdate(),
        "last_of": last_of(shade, data.measures, data.data[0]) if shade.no_more_on else None,
    }
    return page(request, "stash/shade_page.html", context)


@OWNERS
def shade_edit(request: HttpRequest, pk: int) -> HttpResponse:
    shade = get_object_or_404(Shade.objects.select_related("yarn"), pk=pk)
    form = ShadeForm(posted(request), initial=ShadeForm.texts_of(shade), measures=measures_of(request.studio))
    if request.method == "POST" and served(
        form,
        lambda: save_shade(
            yarn_id=shade.yarn_id, pk=pk, version=form.cleaned_data["version"] or 0, **form.facts()
        ),
    ):
        messages.success(request, f"{form.cleaned_data['name']} is changed.")
        return redirect("shade-page", pk)
    return page(request, "stash/shade_form.html", {"shade": shade, "yarn": shade.yarn}, form)


@OWNERS
def shade_no_more(request: HttpRequest, pk: int) -> HttpResponse:
    """Say that a shade is no more made, or that it is made after all."""
    shade = get_object_or_404(Shade.objects.select_related("yarn"), pk=pk)
    measures = measures_of(request.studio)
    form = NoMoreForm(posted(request), initial=NoMoreForm.texts_of(shade), measures=measures)
    back = request.POST.get("back") == "1"
    if back:
        form.fields["on"].required = False

    def write() -> Shade:
        said = form.cleaned_data
        return say_no_more_made(pk=pk, on=None if back else said["on"], version=said["version"] or 0)

    if request.method == "POST" and (saved := served(form, write)):
        said = "made again" if back else "marked as no more made. Every project that uses it says so"
        messages.success(request, f"{saved.name} is {said}.")
        return redirect("shade-page", pk)
    context = {"shade": shade, "yarn": shade.yarn, "last_of": last_of(shade, measures)}
    return page(request, "stash/shade_no_more.html", context, form)


@OWNERS
def shade_retire(request: HttpRequest, pk: int) -> HttpResponse:
    shade = get_object_or_404(Shade.objects.select_related("yarn"), pk=pk)
    form = MeasuredForm(posted(request), measures=measures_of(request.studio))
    back = shade.retired_at is not None
    if request.method == "POST" and served(form, lambda: retire_shade(pk=pk, back=back)):
        messages.success(request, f"{shade.name} is {'back in use' if back else 'retired'}.")
        return redirect("shade-page", pk)
    context = {
        "shade": shade,
        "yarn": shade.yarn,
        "back": back,
        "standing": shade.cones.live() if not back else (),
    }
    return page(request, "stash/shade_retire.html", context, form)
