"""What lies ahead of one shade."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers

from projects.ahead import aheads
from projects.outlook import outlooks
from stash.access import VIEWERS
from stash.measuring import measures_of
from stash.models import Shade


@VIEWERS
def shade_ahead(request: HttpRequest, shade_pk: int) -> HttpResponse:
    """A page of its own, or the part of the shade's page that loads apart."""
    shade = get_object_or_404(Shade.objects.live().select_related("yarn"), pk=shade_pk)
    today = timezone.localdate()
    found = aheads([shade], outlooks([shade_pk], today=today), measures_of(request.studio), today=today)
    part = request.htmx and not request.htmx.history_restore_request
    template = "projects/_ahead.html" if part else "projects/shade_ahead.html"
    answer = render(
        request, template, {"section": "yarn", "shade": shade, "ahead": found[shade_pk], "part": part}
    )
    patch_vary_headers(answer, ["HX-Request"])
    return answer
