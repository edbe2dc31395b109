"""Suppliers: the list, one with its terms, put-ups and orders, and taking one out of use."""

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from stash.access import OWNERS, VIEWERS
from stash.forms.fields import MeasuredForm
from stash.forms.suppliers import SupplierForm
from stash.measuring import measures_of
from stash.models import Supplier
from stash.services.suppliers import remove_supplier, retire_supplier, save_supplier
from stash.tables.paging import ROWS_A_PAGE
from stash.views.answers import page, posted, served

SECTION = {"section": "buying", "turn": "suppliers"}
_NAMES = {
    "lead_days": "lead",
    "late_days": "late",
    "minimum_cents": "minimum",
    "carriage_cents": "carriage",
    "carriage_free_cents": "carriage_free",
}
CLOSED_SHOWN = 10


@VIEWERS
def suppliers(request: HttpRequest) -> HttpResponse:
    """Those that are asked, then those that are not any more."""
    is_open = Q(orders__isnull=False, orders__closed_at=None)
    sold = Q(put_ups__isnull=False, put_ups__retired_at=None)
    rows = Supplier.objects.annotate(
        open_orders=Count("orders", filter=is_open, distinct=True),
        sold_count=Count("put_ups", filter=sold, distinct=True),
    )
    context = SECTION | {
        "suppliers": rows.filter(retired_at=None)[: ROWS_A_PAGE * 4],
        "retired": rows.exclude(retired_at=None)[:ROWS_A_PAGE],
    }
    return page(request, "stash/suppliers.html", context)


@OWNERS
def supplier_new(request: HttpRequest) -> HttpResponse:
    form = SupplierForm(
        posted(request), measures=measures_of(request.studio), currency=request.studio.currency
    )
    if request.method == "POST" and (made := served(form, lambda: save_supplier(terms=form.terms()), _NAMES)):
        messages.success(request, f"{made.name} is noted. What they sell comes next.")
        return redirect("supplier-page", made.pk)
    return page(request, "stash/supplier_form.html", SECTION, form)


@VIEWERS
def supplier_page(request: HttpRequest, pk: int) -> HttpResponse:
    supplier = get_object_or_404(Supplier, pk=pk)
    put_ups = supplier.put_ups.select_related("yarn", "shade").prefetch_related("breaks")
    rows = list(put_ups.order_by("yarn__name", "yarn", "mass_mg", "pk"))
    orders = supplier.orders.with_sums()
    context = SECTION | {
        "supplier": supplier,
        "currency": supplier.currency or request.studio.currency,
        "put_ups": [row for row in rows if row.retired_at is None],
        "sold_no_more": [row for row in rows if row.retired_at],
        "unsent": orders.unsent().order_by("pk"),
        "under_way": orders.under_way().by_due_day(),
        "done": orders.done()[:CLOSED_SHOWN],
        "day": timezone.localdate(),
    }
    return page(request, "stash/supplier_page.html", context)


@OWNERS
def supplier_edit(request: HttpRequest, pk: int) -> HttpResponse:
    supplier = get_object_or_404(Supplier, pk=pk)
    form = SupplierForm(
        posted(request),
        initial=SupplierForm.texts_of(supplier),
        measures=measures_of(request.studio),
        currency=request.studio.currency,
    )

    def write() -> Supplier:
        return save_supplier(
            terms=form.terms(),
            pk=pk,
            version=form.cleaned_data["version"] or 0,
            amounts_stay=form.cleaned_data["amounts_stay"],
        )

    if request.method == "POST" and (kept := served(form, write, _NAMES)):
        messages.success(request, f"{kept.name} is changed.")
        return redirect("supplier-page", pk)
    return page(request, "stash/supplier_form.html", SECTION | {"supplier": supplier}, form)


@OWNERS
def supplier_retire(request: HttpRequest, pk: int) -> HttpResponse:
    """Ordered from no more, or again; or out of the books, where nothing names the supplier."""
    supplier = get_object_or_404(Supplier, pk=pk)
    form = MeasuredForm(posted(request), measures=measures_of(request.studio))
    back = supplier.retired_at is not None
    if request.method == "POST" and "remove" in request.POST:
        if name := served(form, lambda: remove_supplier(pk=pk)):
            messages.success(request, f"{name} is removed.")
            return redirect("suppliers")
    elif request.method == "POST" and served(form, lambda: retire_supplier(pk=pk, back=back)):
        messages.success(request, f"{supplier.name} is {'in use again' if back else 'retired'}.")
        return redirect("supplier-page", pk)
    named = supplier.orders.exists() or supplier.deliveries.exists() or supplier.put_ups.exists()
    open_orders = (supplier.orders.unsent() | supplier.orders.under_way()).order_by("pk")
    context = SECTION | {
        "supplier": supplier,
        "back": back,
        "named": named,
        "open_orders": open_orders if not back else (),
    }
    return page(request, "stash/supplier_retire.html", context, form)
