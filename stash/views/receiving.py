"""Several cones at once, and the deliveries in which they come."""

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone

from stash.access import OWNERS, OWNERS_CHANGE, VIEWERS
from stash.calc.fibres import has_animal_fibre
from stash.forms import offers
from stash.forms.fields import MeasuredForm
from stash.forms.receiving import ROWS, ReceiveForm, rows_in
from stash.measuring import measures_of
from stash.models import Cone, Delivery, Form, Order, OrderLine, OrderLot, Studio
from stash.services.deliveries import MOST_AT_ONCE, close_delivery, receive_several
from stash.services.taking_in import CameMeanwhile, OfOrder
from stash.tables.orders import lot_words
from stash.tables.paging import ROWS_A_PAGE
from stash.views.answers import asks_names, key_in, known_names, page, posted, served

_NAMES = {"core_mg": "core", "name": "shade", "expected_cones": "expected"}
KEPT = ("yarn", "shade", "lot", "form")


@OWNERS
def receive(request: HttpRequest) -> HttpResponse:
    """What was typed is kept when more lines are asked for; ?delivery= adds to one that is open, ?line= takes in what
    came of a line of an order."""
    if asks_names(request):
        return known_names(request)
    key = key_in(request.GET.get("delivery", ""))
    delivery = get_object_or_404(Delivery.objects.with_count(), pk=key, closed_at=None) if key else None
    line = _line(request)
    wanted = str(max(1, line.awaited)) if line else ""
    rows = rows_in(request.POST.get("rows", "") or request.GET.get("rows", "") or wanted)
    more = "more" in request.POST
    if more:
        rows = min(MOST_AT_ONCE, rows + ROWS)
    initial: dict[str, Any] = {"scale": "net", "form": Form.CONE, "price_of": "each"}
    initial |= {name: request.GET[name][:60] for name in KEPT if name in request.GET}
    if line:
        initial |= _of_line(line, rows, request.studio)
    if more:
        initial |= {name: value for name, value in request.POST.items() if name != "csrfmiddlewaretoken"}
    form = ReceiveForm(
        None if more else posted(request),
        initial=initial,
        rows=rows,
        currency=request.studio.currency,
        awaited=delivery is not None,
        of_order=line is not None,
        measures=measures_of(request.studio),
        **ReceiveForm.offered(),
    )

    def write() -> tuple[Delivery | None, list[Cone]]:
        said = form.cleaned_data
        try:
            return receive_several(
                yarn_id=int(said.get("yarn") or 0),
                shade=said.get("shade", ""),
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
                of_order=_of_order(line, said) if line else None,
                apart_until=said["apart_until"],
            )
        except CameMeanwhile as error:
            form.take_came(error.came)
            raise

    if request.method == "POST" and not more and (came := served(form, write, _NAMES)):
        return _received(request, form, line, *came)
    context = {
        "rows": rows,
        "most": MOST_AT_ONCE,
        "delivery": delivery,
        "line": line,
        "lot_asked": lot_words(line) if line else "",
        "other_currency": line is not None and line.order.currency != request.studio.currency,
        "shade_names": offers.shade_names(form.chosen_yarn),
        "lot_names": offers.lot_names(line.shade_id)
        if line
        else offers.lots_of(form.chosen_yarn, form["shade"].value() or ""),
        "place_names": offers.place_names(),
        "supplier_names": offers.supplier_names(),
    }
    return page(request, "stash/receive.html", context, form)


def _line(request: HttpRequest) -> OrderLine | None:
    """The line of ?line=, of an order that was sent."""
    if "line" not in request.GET:
        return None
    found = OrderLine.objects.select_related("order__supplier", "shade__yarn", "lot")
    return get_object_or_404(found, pk=key_in(request.GET["line"]), order__ordered_on__isnull=False)


def _of_line(line: OrderLine, rows: int, studio: Studio) -> dict[str, Any]:
    """What is known of cones before they came. A price in another currency than the studio's is none of theirs."""
    known: dict[str, Any] = {f"label-{at}": line.mass_mg for at in range(1, rows + 1)}
    known |= {"form": line.form, "came": line.came}
    if line.order.currency == studio.currency:
        known["price"] = line.price_cents
    if line.lot_wish == OrderLot.MATCH and line.lot:
        known["lot"] = line.lot.name
    fibres = line.shade.yarn.fibres.values_list("fibre", flat=True)
    if studio.quarantine_days and has_animal_fibre(fibres):
        known["apart_until"] = timezone.localdate() + timedelta(days=studio.quarantine_days)
    return known


def _of_order(line: OrderLine, said: dict[str, Any]) -> OfOrder:
    return OfOrder(
        line_id=line.pk, came=said["came"] or 0, is_more=said["is_more"], is_own_lot=said["is_own_lot"]
    )


def _received(
    request: HttpRequest,
    form: ReceiveForm,
    line: OrderLine | None,
    delivery: Delivery | None,
    cones: list[Cone],
) -> HttpResponse:
    codes = ", ".join(cone.code for cone in cones)
    what = "1 cone is" if len(cones) == 1 else f"{len(cones)} cones are"
    total = form.measures.mass(sum(cone.on_hand_mg for cone in cones))
    messages.success(request, f"{what} on the shelf, {total} together: {codes}.")
    if line:
        return _after_line(request, line)
    if "again" in request.POST:
        kept = {name: form.cleaned_data[name] for name in KEPT if form.cleaned_data[name]}
        if delivery:
            kept["delivery"] = str(delivery.pk)
        return redirect(reverse("receive", query=kept))
    if delivery:
        return redirect("delivery-page", delivery.pk)
    return redirect("shade-page", cones[0].shade_id)


def _after_line(request: HttpRequest, line: OrderLine) -> HttpResponse:
    """On to the next line of which something is awaited, where that was asked for; else back to the order."""
    order = Order.objects.get(pk=line.order_id)
    if order.closed_at:
        messages.info(request, f"Nothing more is awaited of {str(order).lower()}.")
    elif "again" in request.POST:
        waits = OrderLine.objects.awaited().filter(order=order)
        following = waits.filter(pk__gt=line.pk).first() or waits.first()
        if following:
            query = {"line": following.pk, "rows": following.awaited}
            return redirect(reverse("receive", query=query))
    return redirect("order-page", order.pk)


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
    delivery = get_object_or_404(Delivery.objects.with_count().select_related("supplier", "order"), pk=pk)
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
