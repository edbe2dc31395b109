"""The studio's own facts, and its people."""

from django.http import HttpRequest, HttpResponse

from stash.access import OWNERS, OWNERS_CHANGE, VIEWERS


@OWNERS_CHANGE
def studio(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def person_new(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def person_edit(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@VIEWERS
def password(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError
