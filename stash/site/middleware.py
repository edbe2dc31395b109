"""Two gates that every request passes: is there a studio, and may this person open this page?"""

from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit, urlunsplit

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import translation

from stash.access import Access
from stash.models import Studio
from stash.models.studio import Spelling

LANGUAGE_OF = {Spelling.BRITISH: "en-gb", Spelling.AMERICAN: "en-us"}

GetResponse = Callable[[HttpRequest], HttpResponse]


class FirstRunMiddleware:
    """Puts the studio on the request and writes in its spelling; until there is one, every page leads to its
    founding."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.studio = Studio.objects.filter(pk=1).first()
        with translation.override(language_of(request.studio)):
            return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., HttpResponse], args: Any, kwargs: Any
    ) -> HttpResponse | None:
        if request.studio is None and request.resolver_match.view_name not in ("welcome", "open-archive"):
            return redirect("welcome")
        return None


def language_of(studio: Studio | None) -> str:
    """The catalogue of words (stash/locale) that a studio's spelling stands for."""
    return LANGUAGE_OF[Spelling(studio.spelling)] if studio else LANGUAGE_OF[Spelling.BRITISH]


class AccessMiddleware:
    """Applies the word that each view says of itself (stash.access); a view that says none opens to nobody."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., HttpResponse], args: Any, kwargs: Any
    ) -> HttpResponse | None:
        rule: Access | None = getattr(view, "access", None)
        if rule is not None and rule.allows(request):
            return None
        if rule is None or request.user.is_authenticated:
            raise PermissionDenied
        answer = redirect_to_login(_page_in_sight(request))
        if request.htmx:  # a partial has no room for a sign-in page: send the whole page there
            return HttpResponse(headers={"HX-Redirect": answer.url})
        return answer


def _page_in_sight(request: HttpRequest) -> str:
    """Where to come back to after signing in: the page that a person sees, not the partial or the step
    that was asked for, which cannot be opened by its address."""
    if request.htmx:
        return request.htmx.current_url_abs_path or reverse("today")
    if request.method in ("GET", "HEAD"):
        return request.get_full_path()
    seen = urlsplit(request.headers.get("Referer", ""))
    if seen.netloc != request.get_host():
        return reverse("today")
    return urlunsplit(("", "", seen.path, seen.query, ""))
