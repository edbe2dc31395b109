"""Sorting and paging of every list, from the address alone."""

from django.core.paginator import Paginator
from django.http import HttpRequest
from django_tables2 import Table

ROWS_A_PAGE = 50


def lay_out(table: Table, request: HttpRequest) -> Table:
    """Sort by `sort` and cut out `page`.

    An order that is not offered leaves the list's own; a page behind the last shows the last: a kept address
    must still lead somewhere when the list has grown shorter.
    """
    table.request = request
    orders = [order for order in request.GET.getlist("sort") if order.strip("-") and "," not in order]
    if orders:
        table.order_by = orders
    paginator = Paginator(table.rows, ROWS_A_PAGE)
    page = paginator.get_page(request.GET.get("page"))
    page.pages_to_offer = list(paginator.get_elided_page_range(page.number, on_each_side=2, on_ends=1))
    table.paginator, table.page = paginator, page
    return table
