"""Several cones at once, and the deliveries in which they come."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from stash.access import OWNERS, OWNERS_CHANGE, VIEWERS
from stash.forms import offers
from stash.forms.fields import MeasuredForm
from stash.forms.receiving import ROWS, ReceiveForm, rows_in
from stash.measuring import measures_of
from stash.models import Cone, Delivery, Form
from stash.services.deliveries import MOST_AT_ONCE, close_delivery, receive_several
from stash.tables.paging import ROWS_A_PAGE
from stash.views.answers import asks_names, key_in, known_names, page, posted, served

_NAMES = {"core_mg": "core", "name": "shade", "expected_cones": "expected"}
KEPT = ("yarn", "shade", "lot", "form")


@OWNERS
def receive(request: HttpRequest) -> HttpResponse:
    """What was typed is kept when more lines are asked for; ?delivery= adds to one that is open."""
    if asks_names(request):
        return known_names(request)
    key = key_in(request.GET.get("delivery", ""))
    delivery = get_object_or_404(Delivery.objects.with_count(), pk=key, closed_at=None) if key else None
    rows = rows_in(request.POST.get("rows", "") or request.GET.get("rows", ""))
    more = "more" in request.POST
    if more:
        rows = min(MOST_AT_ONCE, rows + ROWS)
    initial = {"scale": "net", "form": Form.CONE, "price_of": "each"}
    initial |= {name: request.GET[name][:60] for name in KEPT if name in request.GET}
    if more:
        initial |= {name: value for name, value in request.POST.items() if name != "csrfmiddlewaretoken"}
    form = ReceiveForm(
        None if more else posted(request),
        initial=initial,
        rows=rows,
        currency=request.studio.currency,
        awaited=delivery is not None,
        measures=measures_of(request.studio),
        **ReceiveForm.offered(),
    )

    def write() -> tuple[Delivery | None, list[Cone]]:
        said = form.cleaned_data
        return receive_several(
            yarn_id=int(said["yarn"]),
            shade=said["shade"],
            packages=form.packages(),
            by=request.user,
            gross=said["scale"] == "gross",
            lot=said["lot"],
            form=said["form"] or Form.CONE,
            price_cents=said["price"],
            price_is_each=said["price_of"] != "all",
            supplier=said.get("supplier", ""),
            expected_cones=said.get("expected"),
            received_on=said.get("received_on"),
            delivery_id=delivery.pk if delivery else None,
        )

    if request.method == "POST" and not more and (came := served(form, write, _NAMES)):
        return _received(request, form, *came)
    context = {
        "rows": rows,
        "most": MOST_AT_ONCE,
        "delivery": delivery,
        "shade_names": offers.shade_names(form.chosen_yarn),
        "lot_names": offers.lots_of(form.chosen_yarn, form["shade"].value() or ""),
        "place_names": offers.place_names(),
        "supplier_names": offers.supplier_names(),
    }
    return page(request, "stash/receive.html", context, form)


def _received(
    request: HttpRequest, form: ReceiveForm, delivery: Delivery | None, cones: list[Cone]
) -> HttpResponse:
    codes = ", ".join(cone.code for cone in cones)
    what = "1 cone is" if len(cones) == 1 else f"{len(cones)} cones are"
    total = form.measures.mass(sum(cone.on_hand_mg for cone in cones))
    messages.success(request, f"{what} on the shelf, {total} together: {codes}.")
    if "again" in request.POST:
        kept = {name: form.cleaned_data[name] for name in KEPT if form.cleaned_data[name]}
        if delivery:
            kept["delivery"] = str(delivery.pk)
        return redirect(reverse("receive", query=kept))
    if delivery:
        return redirect("delivery-page", delivery.pk)
    return redirect("shade-page", cones[0].shade_id)


@VIEWERS
def deliveries(request: HttpRequest) -> HttpResponse:
    """The latest, those still awaited first."""
    rows = Delivery.objects.with_count().select_related("supplier")
    open_ones = list(rows.open()[:ROWS_A_PAGE])
    closed = list(rows.filter(closed_at__isnull=False)[:ROWS_A_PAGE])
    return page(request, "stash/deliveries.html", {"open": open_ones, "closed": closed})


@OWNERS_CHANGE
def delivery_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Its cones, what is awaited, and closing it."""
    delivery = get_object_or_404(Delivery.objects.with_count().select_related("supplier"), pk=pk)
    form = MeasuredForm(posted(request), measures=measures_of(request.studio))
    if request.method == "POST" and served(form, lambda: close_delivery(pk=pk)):
        messages.success(request, "The delivery is closed: nothing more is awaited of it.")
        return redirect("delivery-page", pk)
    cones = list(delivery.cones.with_names().order_by("pk"))
    context = {
        "delivery": delivery,
        "cones": cones,
        "awaited": max(0, (delivery.expected_cones or 0) - delivery.came),
        "cost_cents": sum(cone.price_cents or 0 for cone in cones),
    }
    return page(request, "stash/delivery_page.html", context, form)
