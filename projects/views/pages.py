"""A project's page: plan, need, verdict."""

from django.http import HttpRequest, HttpResponse

from stash.access import OWNERS, OWNERS_CHANGE


@OWNERS
def project_new(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError


@OWNERS_CHANGE
def project_page(request: HttpRequest, pk: int) -> HttpResponse:
    raise NotImplementedError


@OWNERS
def preview(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    raise NotImplementedError
