"""Lines of an order: written while it is not sent, cancelled after."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from stash.access import OWNERS
from stash.forms import offers
from stash.forms.ordering import OTHER, CancelForm, LineForm
from stash.measuring import measures_of
from stash.models import Order, OrderLine, PutUp, Shade
from stash.models.order import OrderLot
from stash.services.ordering import add_line, cancel_line, change_line, remove_line
from stash.services.refusal import Refusal
from stash.views.answers import asks_names, key_in, page, posted, served

_NAMES = {"mass_mg": "mass", "price_cents": "price"}


@OWNERS
def order_line_new(request: HttpRequest, pk: int) -> HttpResponse:
    """?shade= chooses the shade, and the put-up where only one is of its yarn."""
    order = get_object_or_404(Order.objects.select_related("supplier"), pk=pk)
    if order.ordered_on:
        return _went_out(request, order)
    put_ups = _put_ups(order)
    if asks_names(request):
        return _names_for(request, put_ups)
    form = _form(request, order, put_ups, _begin_with(request, put_ups) | {"version": order.version})

    def write() -> OrderLine:
        return add_line(pk=pk, version=form.cleaned_data["version"] or 0, line=form.line())

    if request.method == "POST" and (made := served(form, write, _NAMES)):
        messages.success(request, f"{made.shade.name} stands in {str(order).lower()}.")
        return redirect("order-line-new" if "again" in request.POST else "order-page", pk)
    return _page(request, order, None, form)


@OWNERS
def order_line_edit(request: HttpRequest, pk: int, line_pk: int) -> HttpResponse:
    line = _line(pk, line_pk, "order__supplier", "shade__yarn", "lot")
    order = line.order
    if order.ordered_on:
        return _went_out(request, order)
    put_ups = _put_ups(order, also=line.put_up_id)
    if asks_names(request):
        return _names_for(request, put_ups)
    form = _form(request, order, put_ups, LineForm.texts_of(line))

    def write() -> OrderLine:
        return change_line(
            pk=pk, line_id=line_pk, version=form.cleaned_data["version"] or 0, line=form.line()
        )

    if request.method == "POST" and (kept := served(form, write, _NAMES)):
        messages.success(request, f"{kept.shade.name} is changed in {str(order).lower()}.")
        return redirect("order-page", pk)
    return _page(request, order, line, form)


@OWNERS
@require_POST
def order_line_remove(request: HttpRequest, pk: int, line_pk: int) -> HttpResponse:
    line = _line(pk, line_pk, "shade")
    try:
        remove_line(pk=pk, line_id=line_pk, version=key_in(request.POST.get("version", "")))
    except Refusal as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"{line.shade.name} is taken out of the order.")
    return redirect("order-page", pk)


@OWNERS
def order_line_cancel(request: HttpRequest, pk: int, line_pk: int) -> HttpResponse:
    """How many of a line will not come. A lower number awaits the others again."""
    line = _line(pk, line_pk, "order__supplier", "shade__yarn")
    order = line.order
    form = CancelForm(
        posted(request),
        initial={"cancelled": max(0, line.number - line.came), "version": order.version},
        measures=measures_of(request.studio),
    )

    def write() -> OrderLine:
        said = form.cleaned_data
        return cancel_line(pk=pk, line_id=line_pk, version=said["version"] or 0, number=said["cancelled"])

    if request.method == "POST" and (kept := served(form, write)):
        rest = f"{kept.awaited} still awaited" if kept.awaited else "nothing more is awaited"
        messages.success(request, f"{line.shade.name}: {kept.cancelled} cancelled, {rest}.")
        return redirect("order-page", pk)
    context = {"section": "buying", "order": order, "line": line}
    return page(request, "stash/order_line_cancel.html", context, form)


def _line(pk: int, line_pk: int, *related: str) -> OrderLine:
    # The order by its own key: a number that no database holds finds nothing there, and is an error as a foreign key.
    order = get_object_or_404(Order, pk=pk)
    return get_object_or_404(order.lines.select_related(*related), pk=line_pk)


def _went_out(request: HttpRequest, order: Order) -> HttpResponse:
    messages.error(request, f"{order} went out. Its lines stay as they were sent.")
    return redirect("order-page", order.pk)


def _put_ups(order: Order, also: int | None = None) -> list[PutUp]:
    """What the supplier sells, by yarn; with the put-up of a line that is looked at, sold or not."""
    found = PutUp.objects.filter(supplier=order.supplier_id).select_related("yarn", "shade")
    rows = found.prefetch_related("breaks").order_by("yarn__name", "yarn", "mass_mg", "pk")
    return [row for row in rows if row.retired_at is None or row.pk == also]


def _begin_with(request: HttpRequest, put_ups: list[PutUp]) -> dict[str, Any]:
    initial: dict[str, Any] = {"lot_wish": OrderLot.ANY, "number": 1}
    shade = Shade.objects.live().filter(pk=key_in(request.GET.get("shade", ""))).first()
    if shade:
        initial |= {"shade": shade.name, "yarn": str(shade.yarn_id)}
        fit = [one for one in put_ups if one.yarn_id == shade.yarn_id and one.shade_id in (None, shade.pk)]
        if len(fit) == 1:
            initial |= {"put_up": str(fit[0].pk), "number": fit[0].least}
        elif not fit:
            initial["put_up"] = OTHER
    return initial


def _form(request: HttpRequest, order: Order, put_ups: list[PutUp], initial: dict[str, Any]) -> LineForm:
    return LineForm(
        posted(request),
        initial=initial,
        measures=measures_of(request.studio),
        currency=order.currency,
        put_ups=put_ups,
        yarns=offers.yarns_in_use(),
        names_at=reverse("order-line-new", args=[order.pk]),
    )


def _names_for(request: HttpRequest, put_ups: list[PutUp]) -> HttpResponse:
    """What shade and lot may be, after the put-up or the yarn that is chosen."""
    yarns = {str(one.pk): one.yarn_id for one in put_ups}
    yarn_id = yarns.get(request.GET.get("put_up", "")) or key_in(request.GET.get("yarn", "")) or None
    typed = request.GET.get("shade", "")[:80]
    names = {"shade_names": offers.shade_names(yarn_id, typed), "lot_names": offers.lots_of(yarn_id, typed)}
    return render(request, "stash/_known_names.html", names)


def _page(request: HttpRequest, order: Order, line: OrderLine | None, form: LineForm) -> HttpResponse:
    yarn_id = form.chosen_yarn
    context = {
        "section": "buying",
        "order": order,
        "line": line,
        "shade_names": offers.shade_names(yarn_id),
        "lot_names": offers.lots_of(yarn_id, form["shade"].value() or ""),
    }
    return page(request, "stash/order_line_form.html", context, form)
