"""What lies ahead of one shade."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers

from projects.shade_ahead import shade_ahead as found_ahead
from stash.access import VIEWERS
from stash.measuring import measures_of
from stash.models import Shade


@VIEWERS
def shade_ahead(request: HttpRequest, shade_pk: int) -> HttpResponse:
    """A page of its own, or the part of the shade's page that loads apart."""
    shade = get_object_or_404(Shade.objects.live().select_related("yarn"), pk=shade_pk)
    found = found_ahead(shade, request.studio, measures_of(request.studio), today=timezone.localdate())
    part = request.htmx and not request.htmx.history_restore_request
    context = {"section": "yarn", "shade": shade, "found": found, "ahead": found.ahead, "part": part}
    answer = render(request, "projects/_ahead.html" if part else "projects/shade_ahead.html", context)
    patch_vary_headers(answer, ["HX-Request"])
    return answer
