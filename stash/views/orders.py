"""Orders: the list, one with its lines, and its way from being written to being done."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from stash.access import OWNERS, VIEWERS
from stash.forms.fields import MeasuredForm
from stash.forms.ordering import NewOrderForm, OrderForm, SendForm
from stash.forms.versions import VersionedForm
from stash.measuring import measures_of
from stash.models import Order, Shade, Supplier
from stash.services.ordering import (
    carriage_by_terms,
    change_order,
    close_order,
    discard_order,
    mark_ordered,
    take_back_ordered,
    write_order,
)
from stash.services.refusal import Refusal
from stash.tables.orders import amount, held_to_terms, lateness, line_rows, worth_of
from stash.tables.paging import ROWS_A_PAGE
from stash.views.answers import key_in, page, posted, served

SECTION = {"section": "buying", "turn": "orders"}
_NAMES = {"ordered_on": "on", "carriage_cents": "carriage"}


@VIEWERS
def orders(request: HttpRequest) -> HttpResponse:
    """Being written, under way with the late ones first, done."""
    day = timezone.localdate()
    rows = Order.objects.with_sums()
    under_way = list(rows.under_way().by_due_day())
    context = SECTION | {
        "unsent": rows.unsent().order_by("pk")[:ROWS_A_PAGE],
        "late": [order for order in under_way if order.is_late(day)],
        "under_way": [order for order in under_way if not order.is_late(day)],
        "done": rows.done().order_by("-closed_at", "-pk")[:ROWS_A_PAGE],
        "done_more": max(0, Order.objects.done().count() - ROWS_A_PAGE),
        "day": day,
    }
    return page(request, "stash/orders.html", context)


@OWNERS
def order_new(request: HttpRequest) -> HttpResponse:
    """Of whom; ?shade= goes on to a line of it. An order to them that is being written is added to."""
    shade = Shade.objects.select_related("yarn").filter(pk=key_in(request.GET.get("shade", ""))).first()
    sells = _who_sells(shade)
    form = NewOrderForm(posted(request), initial={"supplier": request.GET.get("supplier", "")[:20]})
    form.fields["supplier"].choices = sells
    if request.method == "POST" and form.is_valid():
        try:
            order = _begin(int(form.cleaned_data["supplier"]), request)
        except Refusal as error:
            form.add_error("supplier", error.message)
        else:
            query = {"shade": shade.pk} if shade else {}
            return redirect(reverse("order-line-new", args=[order.pk], query=query))
    return page(request, "stash/order_new.html", SECTION | {"shade": shade, "any": bool(sells)}, form)


def _who_sells(shade: Shade | None) -> list[tuple[str, Any]]:
    """Suppliers as choices; who sells the shade's yarn stands first."""
    known = list(Supplier.objects.live().values_list("pk", "name"))
    if shade is None:
        return [(str(pk), name) for pk, name in known]
    theirs = set(shade.yarn.put_ups.sold().values_list("supplier", flat=True))
    first = [(str(pk), name) for pk, name in known if pk in theirs]
    rest = [(str(pk), name) for pk, name in known if pk not in theirs]
    groups = [(f"Sell {shade.yarn.name}", first), ("Others", rest)]
    return [group for group in groups if group[1]]


def _begin(supplier_id: int, request: HttpRequest) -> Order:
    known = Order.objects.unsent().filter(supplier=supplier_id).order_by("pk").last()
    return known or write_order(supplier_id=supplier_id, lines=[], by=request.user)


@VIEWERS
def order_page(request: HttpRequest, pk: int) -> HttpResponse:
    order = get_object_or_404(Order.objects.select_related("supplier", "by"), pk=pk)
    lines = list(
        order.lines.select_related("shade__yarn", "lot", "put_up").prefetch_related("put_up__breaks")
    )
    carriage = order.carriage_cents
    if carriage is None and not order.ordered_on:
        carriage = carriage_by_terms(order.supplier, lines)
    worth = worth_of(order, lines, carriage)
    day = timezone.localdate()
    context = SECTION | {
        "order": order,
        "rows": line_rows(order, lines, measures_of(request.studio)),
        "worth": worth,
        "terms": held_to_terms(order, worth) if lines and not order.ordered_on else None,
        "late": lateness(order, day),
        "day": day,
        "days_to_go": _days_to_go(order, day),
        "came": sum(line.came for line in lines),
        "awaited": sum(line.awaited for line in lines),
        "number": sum(line.number for line in lines),
        "cancelled": sum(line.cancelled for line in lines),
        "deliveries": order.deliveries.with_count() if order.ordered_on else (),
        "other_currency": order.currency != request.studio.currency,
    }
    return page(request, "stash/order_page.html", context)


def _days_to_go(order: Order, day: date) -> int | None:
    return None if order.due_on is None else (order.due_on - day).days


@OWNERS
def order_edit(request: HttpRequest, pk: int) -> HttpResponse:
    order = get_object_or_404(Order.objects.select_related("supplier"), pk=pk)
    form = OrderForm(
        posted(request),
        initial=OrderForm.texts_of(order),
        measures=measures_of(request.studio),
        currency=order.currency,
        sent=order.ordered_on is not None,
    )

    def write() -> Order:
        return change_order(pk=pk, version=form.cleaned_data["version"] or 0, **form.facts())

    if request.method == "POST" and served(form, write, _NAMES):
        messages.success(request, f"{order} is changed.")
        return redirect("order-page", pk)
    return page(request, "stash/order_edit.html", SECTION | {"order": order}, form)


@OWNERS
def order_send(request: HttpRequest, pk: int) -> HttpResponse:
    """It goes out: on which day, and when it should come."""
    order = get_object_or_404(Order.objects.select_related("supplier"), pk=pk)
    if order.ordered_on:
        messages.error(request, f"{order} went out already.")
        return redirect("order-page", pk)
    by_terms = carriage_by_terms(order.supplier, list(order.lines.all()))
    form = SendForm(
        posted(request),
        initial={"on": timezone.localdate(), "version": order.version, "carriage": order.carriage_cents},
        measures=measures_of(request.studio),
        currency=order.currency,
        lead_days=order.supplier.lead_days,
        by_terms=_by_terms(by_terms, order.currency),
    )

    def write() -> Order:
        said = form.cleaned_data
        return mark_ordered(
            pk=pk,
            version=said["version"] or 0,
            on=said["on"],
            due_on=said["due_on"],
            reference=said["reference"],
            carriage_cents=said["carriage"],
            was_sooner=said["was_sooner"],
        )

    if request.method == "POST" and (sent := served(form, write, _NAMES)):
        due = f" It is due on {sent.due_on.day} {sent.due_on:%B}." if sent.due_on else ""
        messages.success(request, f"{order} is under way.{due} What comes of it is received from its page.")
        return redirect("order-page", pk)
    return page(request, "stash/order_send.html", SECTION | {"order": order}, form)


def _by_terms(cents: int | None, currency: str) -> str:
    if cents is None:
        return ""
    return f"{amount(cents, currency) if cents else 'none'}, by their terms."


@OWNERS
@require_POST
def order_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """It did not go out after all."""
    order = get_object_or_404(Order, pk=pk)
    try:
        take_back_ordered(pk=pk, version=key_in(request.POST.get("version", "")))
    except Refusal as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"{order} is being written again.")
    return redirect("order-page", pk)


@OWNERS
def order_close(request: HttpRequest, pk: int) -> HttpResponse:
    return _asked(request, pk, "stash/order_close.html", lambda version: close_order(pk=pk, version=version))


@OWNERS
def order_discard(request: HttpRequest, pk: int) -> HttpResponse:
    return _asked(
        request, pk, "stash/order_discard.html", lambda version: discard_order(pk=pk, version=version) or True
    )


class AskForm(VersionedForm):
    """A step that is asked about once more."""

    def show_both(self, error: Any, current: Order) -> None:
        self.data = self.data.copy()
        self.data[self.add_prefix("version")] = str(current.version)
        self.refuse(error)


def _asked(request: HttpRequest, pk: int, template: str, step: Any) -> HttpResponse:
    order = get_object_or_404(Order.objects.with_sums(), pk=pk)
    form: MeasuredForm = AskForm(
        posted(request), initial={"version": order.version}, measures=measures_of(request.studio)
    )
    if request.method == "POST" and served(form, lambda: step(form.cleaned_data["version"] or 0)):
        if step_left := Order.objects.filter(pk=pk).exists():
            messages.success(request, f"Nothing more is awaited of {str(order).lower()}.")
        else:
            messages.success(request, f"{order} is given up.")
        return redirect("order-page", pk) if step_left else redirect("orders")
    context = SECTION | {"order": order, "lines": order.lines.select_related("shade__yarn")}
    return page(request, template, context, form)
