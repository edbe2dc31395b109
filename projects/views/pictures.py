"""The cloth picture."""

from django.http import HttpRequest, HttpResponse

from stash.access import VIEWERS


@VIEWERS
def cloth(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError
