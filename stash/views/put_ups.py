"""Put-ups: in which forms a supplier sells a yarn, and at which prices."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from stash.access import OWNERS
from stash.calc.writing import Measures
from stash.forms import offers
from stash.forms.suppliers import PutUpForm
from stash.measuring import measures_of
from stash.models import PutUp, Supplier
from stash.services.refusal import Refusal
from stash.services.suppliers import retire_put_up, save_put_up
from stash.tables.orders import packages
from stash.views.answers import page, posted, served

_NAMES = {"mass_mg": "mass", "price_cents": "price"}


@OWNERS
def put_up_new(request: HttpRequest, supplier_pk: int) -> HttpResponse:
    """?yarn= chooses the yarn; one after the other for a whole list of theirs."""
    supplier = get_object_or_404(Supplier, pk=supplier_pk)
    form = PutUpForm(
        posted(request),
        initial={name: request.GET[name][:60] for name in ("yarn", "shade", "form") if name in request.GET},
        measures=measures_of(request.studio),
        currency=supplier.currency or request.studio.currency,
        yarns=offers.yarns_in_use(),
    )

    def write() -> PutUp:
        return save_put_up(supplier_id=supplier_pk, put_up=form.put_up())

    if request.method == "POST" and (made := served(form, write, _names(form))):
        messages.success(request, f"{_called(made, form.measures)} is noted.")
        return redirect("put-up-new" if "again" in request.POST else "supplier-page", supplier_pk)
    return _page(request, supplier, None, form)


@OWNERS
def put_up_edit(request: HttpRequest, pk: int) -> HttpResponse:
    found = PutUp.objects.select_related("supplier", "yarn", "shade").prefetch_related("breaks")
    put_up = get_object_or_404(found, pk=pk)
    yarns = offers.yarns_in_use()
    if put_up.yarn.retired_at:
        yarns.append((put_up.yarn_id, put_up.yarn.name, put_up.yarn.count_written))
    form = PutUpForm(
        posted(request),
        initial=PutUpForm.texts_of(put_up),
        measures=measures_of(request.studio),
        currency=put_up.supplier.currency or request.studio.currency,
        yarns=yarns,
        breaks=len(put_up.breaks.all()),
    )

    def write() -> PutUp:
        return save_put_up(
            supplier_id=put_up.supplier_id,
            put_up=form.put_up(),
            pk=pk,
            version=form.cleaned_data["version"] or 0,
        )

    if request.method == "POST" and (kept := served(form, write, _names(form))):
        messages.success(
            request, f"{_called(kept, form.measures)} is changed. Orders keep what they were written with."
        )
        return redirect("supplier-page", put_up.supplier_id)
    return _page(request, put_up.supplier, put_up, form)


@OWNERS
@require_POST
def put_up_retire(request: HttpRequest, pk: int) -> HttpResponse:
    """Sold no more, or sold again."""
    put_up = get_object_or_404(PutUp.objects.select_related("supplier", "yarn"), pk=pk)
    back = "back" in request.POST
    try:
        retire_put_up(pk=pk, back=back)
    except Refusal as error:
        messages.error(request, error.message)
    else:
        called = _called(put_up, measures_of(request.studio))
        messages.success(request, f"{called} is {'sold again' if back else 'sold no more'}.")
    return redirect("supplier-page", put_up.supplier_id)


def _names(form: PutUpForm) -> dict[str, str]:
    return _NAMES | (form.break_names if form.is_valid() else {})


def _called(put_up: PutUp, measures: Measures) -> str:
    """Plain cotton, 1 cone of 454 g."""
    return f"{put_up.yarn.name}, {packages(1, put_up.form, put_up.mass_mg, measures)}"


def _page(request: HttpRequest, supplier: Supplier, put_up: PutUp | None, form: PutUpForm) -> HttpResponse:
    context = {
        "section": "buying",
        "supplier": supplier,
        "put_up": put_up,
        "shade_names": offers.shade_names(form.chosen_yarn),
        "lot_names": (),
    }
    return page(request, "stash/put_up_form.html", context, form)
