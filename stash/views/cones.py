"""Cones: the weigh-in page, adding, moving, retiring."""

from django.http import HttpRequest, HttpResponse

from stash.access import HELPERS, HELPERS_ONLY, OWNERS, VIEWERS


@OWNERS
def cone_add(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError


@HELPERS
def cone_page(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def cone_edit(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@HELPERS_ONLY
def cone_move(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def cone_retire(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@VIEWERS
def cone_ledger(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError
