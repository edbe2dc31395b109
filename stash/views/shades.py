"""Shades."""

from django.http import HttpRequest, HttpResponse

from stash.access import OWNERS, VIEWERS


@OWNERS
def shade_new(request: HttpRequest, yarn_pk: int) -> HttpResponse:
    raise NotImplementedError


@VIEWERS
def shade_page(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def shade_edit(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def shade_retire(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError
