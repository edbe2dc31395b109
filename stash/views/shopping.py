"""Shopping lists, of one order (?order=) or of all that are being written: printed, as plain text, as a table."""

from urllib.parse import urlencode

from django.db.models import Prefetch
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from stash.access import VIEWERS
from stash.measuring import measures_of
from stash.models import Order, OrderLine
from stash.spreadsheets.writing import csv_pieces
from stash.tables import shopping
from stash.tables.exports import units_of
from stash.tables.shopping import ShoppingOrder, shopping_orders
from stash.views.answers import key_in

FILES = {"shopping-list.txt": "text/plain; charset=utf-8", "shopping-list.csv": "text/csv; charset=utf-8"}


@VIEWERS
@require_safe
def shopping_list(request: HttpRequest) -> HttpResponse:
    """For paper: a box to tick at each line, and what it is for."""
    return render(request, "stash/shopping_list.html", _context(request))


@VIEWERS
@require_safe
def shopping_text(request: HttpRequest) -> HttpResponse:
    """As plain text, to copy into a letter."""
    context = _context(request)
    text = shopping.as_text(context["orders"], measures_of(request.studio), request.studio.name)
    return render(request, "stash/shopping_text.html", context | {"text": text, "rows": text.count("\n") + 2})


@VIEWERS
@require_safe
def shopping_file(request: HttpRequest, file: str) -> HttpResponseBase:
    if file not in FILES:
        raise Http404("There is no such list.")
    orders = _orders(request)
    if file.endswith(".txt"):
        text = shopping.as_text(orders, measures_of(request.studio), request.studio.name)
        # Line ends as every editor shows them.
        answer: HttpResponseBase = HttpResponse(text.replace("\n", "\r\n"), content_type=FILES[file])
    else:
        units = units_of(request.studio, measures_of(request.studio))
        pieces = csv_pieces(shopping.headings(units), shopping.rows(orders, units))
        answer = StreamingHttpResponse(pieces, content_type=FILES[file])
    name = f"order-{orders[0].order.pk}{file[-4:]}" if _key(request) else file
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _key(request: HttpRequest) -> int:
    return key_in(request.GET.get("order", ""))


def _orders(request: HttpRequest) -> list[ShoppingOrder]:
    lines = OrderLine.objects.select_related("shade__yarn", "lot", "put_up").order_by("pk")
    found = Order.objects.select_related("supplier").prefetch_related(
        Prefetch("lines", lines.prefetch_related("put_up__breaks"))
    )
    if "order" in request.GET:
        orders = [get_object_or_404(found, pk=_key(request))]
    else:
        orders = list(found.unsent().order_by("supplier__name", "pk"))
    return shopping_orders(orders, measures_of(request.studio))


def _context(request: HttpRequest) -> dict[str, object]:
    orders = _orders(request)
    key = _key(request)
    return {
        "section": "buying",
        "turn": "orders",
        "orders": orders,
        "one": orders[0].order if key else None,
        "query": f"?{urlencode({'order': key})}" if key else "",
    }
