"""One search over shades, cones and projects; and where a claim is shown."""

from django.http import HttpRequest, HttpResponse

from stash.access import VIEWERS


@VIEWERS
def find(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError


@VIEWERS
def claim(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError
