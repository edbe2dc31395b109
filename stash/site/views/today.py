"""Today: what needs a hand now."""

from django.http import HttpRequest, HttpResponse

from stash.access import VIEWERS


@VIEWERS
def today(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError
