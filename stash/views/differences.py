"""The differences of a stocktake: each accepted or left, or all within noise at once."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from stash.access import HELPERS
from stash.calc.writing import Measures
from stash.forms.stocktake import SettleForm
from stash.measuring import measures_of
from stash.models import Count, Stocktake
from stash.services.stocktaking import settle, settle_noise
from stash.tables.differences import OFFERS, Difference, Differences
from stash.tables.stocktakes import division_mg
from stash.views.answers import key_in, page, served, tell_undercut

ROWS_A_PAGE = 30
NOISE_SHOWN = 100


@HELPERS
def stocktake_differences(request: HttpRequest, pk: int) -> HttpResponse:
    stocktake = get_object_or_404(Stocktake.objects.with_names(), pk=pk)
    measures = measures_of(request.studio)
    refused: Difference | None = None
    if request.method == "POST":
        if request.POST.get("what") == "noise":
            done = settle_noise(stocktake_id=pk, by=request.user, division_mg=division_mg(measures))
            messages.success(request, _accepted(done))
            return redirect(request.get_full_path())
        counts = Count.objects.filter(stocktake=pk).with_names().with_changes()
        count = counts.filter(pk=key_in(request.POST.get("count"))).first()
        if count is None:
            messages.error(request, "That count is not here any more. What waits stands below.")
            return redirect(request.get_full_path())
        refused = _row(Differences(stocktake, measures), count)
        refused.form = _form(refused, measures, request.POST)
        if served(refused.form, lambda: _settle(request, refused, measures)):
            return redirect(request.get_full_path())
    differences = Differences(stocktake, measures)
    shown = Paginator(differences.to_look_at, ROWS_A_PAGE).get_page(request.GET.get("page"))
    rows = differences.rows_of(shown.object_list)
    for row in rows:
        row.form = refused.form if refused and row.count.pk == refused.count.pk else _form(row, measures)
    context = {
        "stocktake": stocktake,
        "rows": rows,
        "shown": shown,
        "noise": differences.rows_of(differences.noise[:NOISE_SHOWN]),
        "noise_count": len(differences.noise),
        "noise_more": max(0, len(differences.noise) - NOISE_SHOWN),
        "settled": stocktake.counts.exclude(settled_at=None).count(),
        "offers": OFFERS,
    }
    return page(request, "stash/stocktake_differences.html", context, refused and refused.form)


def _row(differences: Differences, count: Count) -> Difference:
    (row,) = differences.rows_of([count])
    return row


def _form(row: Difference, measures: Measures, data: Any = None) -> SettleForm:
    return SettleForm(
        data,
        initial={"reason": row.suggestion},
        count=row.count,
        stale=row.state == "stale",
        optional=row.is_less,
        offers=row.offers,
        measures=measures,
    )


def _settle(request: HttpRequest, row: Difference, measures: Measures) -> bool:
    """Settle one count and say so; one that was settled in the meantime is said to be."""
    said = row.form.cleaned_data
    accept = request.POST.get("what") == "accept"
    done, count = settle(
        count_id=row.count.pk,
        accept=accept,
        by=request.user,
        reason=said["reason"],
        confirmed=said.get("confirmed", False),
    )
    cone = count.cone
    if not done:
        messages.warning(request, f"{cone.code} was settled already; nothing was changed once more.")
    elif accept:
        messages.success(request, f"{cone.code}: the books say {measures.mass(cone.on_hand_mg)} now.")
        tell_undercut(request, cone, measures)
    else:
        messages.success(request, f"{cone.code}: the books stay as they are.")
    return True


def _accepted(done: int) -> str:
    if not done:
        return "Nothing within noise waits any more."
    return f"{done} count{'s' if done > 1 else ''} within noise {'are' if done > 1 else 'is'} accepted."
