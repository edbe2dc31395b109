"""What every template knows."""

from typing import Any

from django.http import HttpRequest

from stash.measuring import measures_of


def studio(request: HttpRequest) -> dict[str, Any]:
    """The studio, its way of writing figures, and the person who is looking."""
    found = getattr(request, "studio", None)
    return {"studio": found, "measures": measures_of(found), "person": getattr(request, "user", None)}
