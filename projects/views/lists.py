"""The list of projects with their verdicts."""

from django.http import HttpRequest, HttpResponse

from stash.access import VIEWERS


@VIEWERS
def project_list(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError
