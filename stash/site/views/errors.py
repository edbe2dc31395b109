"""Pages for what went wrong, in the look of the house."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "400.html", status=400)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "403.html", status=403)


def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form whose token does not fit: too old, or sent from an address that the studio is not told of."""
    elsewhere = reason.startswith("Origin checking failed")
    return render(request, "site/form_too_old.html", {"elsewhere": elsewhere}, status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "404.html", status=404)


def server_error(request: HttpRequest) -> HttpResponse:
    return render(request, "500.html", status=500)
