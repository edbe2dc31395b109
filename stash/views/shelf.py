"""The Yarn page: what is on the shelf, by shade, by cone or by kind of yarn."""

from typing import Any

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.vary import vary_on_headers

from stash.access import VIEWERS
from stash.forms.shelf import ShelfFilter
from stash.label_address import read_scanned
from stash.measuring import measures_of
from stash.models import Cone, FibreShare, Shade, Yarn
from stash.services.whole_ends import ends_by_lot
from stash.tables.cones import ConeData, ConeTable
from stash.tables.kinds import KindTable
from stash.tables.paging import lay_out
from stash.tables.shades import ShadeData, ShadeTable, Sought

LIST_ID = "shelf-list"


@VIEWERS
@vary_on_headers("HX-Request")
def shelf(request: HttpRequest) -> HttpResponse:
    if (scanned := read_scanned(request.GET.get("q", ""))) and (cone := scanned.find()):
        there = reverse("cone-page", args=[cone.pk])
        return HttpResponse(headers={"HX-Redirect": there}) if request.htmx else redirect(there)
    # Every link of the page is built from the address: without what is empty they stay short.
    request.GET = _without_blanks(request.GET)
    by = request.GET.get("by", "shade")
    by = by if by in _LISTS else "shade"
    asked = ShelfFilter(request.GET, by=by, measures=measures_of(request.studio))
    asked.is_valid()
    context = _LISTS[by](request, asked) | {"section": "yarn", "by": by, "filters": asked}
    status = 422 if asked.errors else 200
    if request.htmx and request.htmx.target == LIST_ID:
        response = render(request, "stash/_shelf_list.html", context | {"swapped": True}, status=status)
        response["HX-Push-Url"] = _address(request.GET)
        return response
    context["views"] = request.user.views.all()
    return render(request, "stash/shelf.html", context, status=status)


def _by_shade(request: HttpRequest, asked: ShelfFilter) -> dict[str, Any]:
    shades = asked.shades(Shade.objects.all())
    ends = ends_by_lot(shades, asked.end_um) if asked.end_um else None
    data = ShadeData(shades, measures_of(request.studio), Sought(asked.near_colour, ends))
    table = lay_out(ShadeTable(data), request)
    return {"table": table, "data": data, "rows": [row.record for row in table.paginated_rows]}


def _by_cone(request: HttpRequest, asked: ShelfFilter) -> dict[str, Any]:
    data = ConeData(asked.cones(Cone.objects.all()), measures_of(request.studio), asked.end_um)
    table = lay_out(ConeTable(data), request)
    return {"table": table, "data": data, "rows": [row.record for row in table.paginated_rows]}


def _by_kind(request: HttpRequest, asked: ShelfFilter) -> dict[str, Any]:
    fibres = Prefetch("fibres", FibreShare.objects.all())
    yarns = asked.kinds(Yarn.objects.all()).with_stock().prefetch_related(fibres)
    return {"table": lay_out(KindTable(yarns), request)}


_LISTS = {"shade": _by_shade, "cone": _by_cone, "kind": _by_kind}


def _without_blanks(query: QueryDict) -> QueryDict:
    tidy = QueryDict(mutable=True)
    for name, values in query.lists():
        if any(values):
            tidy.setlist(name, [value for value in values if value])
    return tidy


def _address(query: QueryDict) -> str:
    return reverse("yarn") + (f"?{query.urlencode()}" if query else "")
