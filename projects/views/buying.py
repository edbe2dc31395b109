"""What should be ordered: proposed orders, and those that are being written or under way."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from projects.buying.proposals import Page, Proposed, buying_page
from projects.buying.writing import write_proposed
from projects.forms.buying import ProposalForm
from stash.access import OWNERS, VIEWERS
from stash.measuring import measures_of
from stash.models import Order, Supplier
from stash.views.answers import REFUSED, served


@VIEWERS
def buying(request: HttpRequest) -> HttpResponse:
    return _page(request, _found(request))


@OWNERS
@require_POST
def buying_write(request: HttpRequest, supplier_pk: int) -> HttpResponse:
    """One proposed order is written; or only reckoned anew with the numbers that were typed."""
    supplier = get_object_or_404(Supplier, pk=supplier_pk)
    found = _found(request)
    proposed = next((one for one in found.proposed if one.supplier.pk == supplier_pk), None)
    if proposed is None:
        messages.error(
            request,
            f"Nothing of {supplier.name} is asked for any more: it was put on an order, or it is there.",
        )
        return _page(request, found, status=REFUSED)
    form = _form(request, proposed, request.POST)
    if "reckon" in request.POST:
        return _page(request, found, {supplier_pk: form}, REFUSED if not form.is_valid() else 200)

    def write() -> Order:
        return write_proposed(supplier_id=supplier_pk, chosen=form.chosen(), by=request.user)

    order = served(form, write, form.names() if form.is_valid() else None)
    if order:
        messages.success(
            request, f"{order} to {supplier.name} is written. Once it is sent, mark it as ordered here."
        )
        return redirect("order-page", order.pk)
    return _page(request, found, {supplier_pk: form}, REFUSED)


def _found(request: HttpRequest) -> Page:
    return buying_page(timezone.localdate(), request.studio, measures_of(request.studio))


def _form(request: HttpRequest, proposed: Proposed, data: Any = None) -> ProposalForm:
    return ProposalForm(data, proposed=proposed, measures=measures_of(request.studio))


def _page(
    request: HttpRequest, found: Page, bound: Mapping[int, ProposalForm] | None = None, status: int = 200
) -> HttpResponse:
    forms = [
        (bound or {}).get(proposed.supplier.pk) or _form(request, proposed) for proposed in found.proposed
    ]
    day = timezone.localdate()
    under_way = list(Order.objects.with_sums().under_way().by_due_day())
    context = {
        "section": "buying",
        "turn": "buying",
        "found": found,
        "orders": [_Shown(form, found) for form in forms],
        "late": [order for order in under_way if order.is_late(day)],
        "under_way": [order for order in under_way if not order.is_late(day)],
        "unsent": Order.objects.with_sums().unsent().order_by("pk"),
        "sellers": Supplier.objects.live().order_by("name") if found.unsold else (),
        "day": day,
    }
    return render(request, "projects/buying.html", context, status=status)


class _Shown:
    """A proposed order with its form, its sums and the fields of each line."""

    def __init__(self, form: ProposalForm, found: Page) -> None:
        self.form, self.proposed = form, form.proposed
        self.sums = form.proposed.sums(form.numbers, found.scene)
        self.late = any(line.order_by and line.order_by < found.scene.today for line in self.proposed.lines)
        self.lines = [_LineShown(form, line) for line in self.proposed.lines]
        self.costs = ",".join(f"#cost-{line.pk}" for line in self.proposed.lines)


class _LineShown:
    def __init__(self, form: ProposalForm, line: Any) -> None:
        self.line = line
        self.take, self.number, self.lot = (form[f"{name}-{line.pk}"] for name in ("take", "number", "lot"))
        self.hidden = [form[f"{name}-{line.pk}"] for name in ("put_up", "mass", "seen")]
        taken = self.take.value() in (True, "on")
        number = form.numbers.get(line.pk) or (0 if form.is_bound and taken else line.number)
        self.readable = number > 0
        self.mass_mg = number * line.put_up.mass_mg
        self.each_cents = number and line.choice.offered.price_at(number)
        self.cost_cents = number and line.choice.offered.cost_of(number)
