"""What can be done with a project."""

from django.http import HttpRequest, HttpResponse

from stash.access import HELPERS_ONLY, OWNERS


@HELPERS_ONLY
def reserve(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@HELPERS_ONLY
def release(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def new_grist(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def put_away(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError
