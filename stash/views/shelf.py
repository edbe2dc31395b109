"""The Yarn page: what is on the shelf, by shade or by cone."""

from django.http import HttpRequest, HttpResponse

from stash.access import VIEWERS


@VIEWERS
def shelf(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError
