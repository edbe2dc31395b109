"""Sheets to print."""

from django.http import HttpRequest, HttpResponse

from stash.access import VIEWERS


@VIEWERS
def project_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError
