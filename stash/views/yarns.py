"""Kinds of yarn."""

from django.http import HttpRequest, HttpResponse

from stash.access import OWNERS, VIEWERS


@OWNERS
def yarn_new(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError


@VIEWERS
def yarn_page(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def yarn_edit(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def yarn_retire(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError
