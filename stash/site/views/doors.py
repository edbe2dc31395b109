"""First run, signing in and out."""

from django.http import HttpRequest, HttpResponse

from stash.access import PUBLIC


@PUBLIC
def welcome(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError


@PUBLIC
def sign_in(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError


@PUBLIC
def sign_in_demo(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError


@PUBLIC
def sign_out(request: HttpRequest) -> HttpResponse:
    raise NotImplementedError
