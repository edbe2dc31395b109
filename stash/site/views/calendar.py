"""The studio's days: as a page, and at private addresses as a feed for a calendar."""

import hashlib

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseNotFound
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_safe

from projects.days import DayKind, all_days
from stash.access import PUBLIC, VIEWERS
from stash.qr import qr_svg
from stash.services.calendar_addresses import find_address, make_address, note_reading, revoke_address
from stash.services.refusal import Refusal
from stash.site.calendar.feed import calendar_of
from stash.site.calendar.months import lay_out
from stash.site.forms import CalendarAddressForm
from stash.site.phones import reachable_address
from stash.views.answers import key_in, page, posted, served

REVOKED_SHOWN = 5


@VIEWERS
@require_safe
def calendar(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    days = all_days(today)
    kind = request.GET.get("kind", "")
    shown = [one for one in days if one.kind == kind] if kind in set(DayKind) else days
    context = {
        "section": "today",
        "today": today,
        "laid": lay_out(shown, today),
        "kinds": [one for one in DayKind if any(day.kind == one for day in days)],
        "kind": kind if kind in set(DayKind) else "",
        "any": bool(days),
    }
    return page(request, "site/calendar.html", context)


@VIEWERS
@never_cache
@sensitive_variables("token", "address")
def calendar_addresses(request: HttpRequest) -> HttpResponse:
    """A person's own addresses. A new one is shown once, since only its hash is kept."""
    if request.method == "POST" and "revoke" in request.POST:
        return _revoked(request)
    form = CalendarAddressForm(posted(request))
    root = reachable_address(request)
    context = {"section": "today", "root": root}
    if request.method == "POST":
        made = served(form, lambda: make_address(person=request.user, name=form.cleaned_data["name"]))
        if made:
            found, token = made
            address = (root or f"{request.scheme}://{request.get_host()}") + reverse(
                "calendar-feed", args=[token]
            )
            context |= {
                "made": found,
                "address": address,
                "webcal": "webcal" + address.removeprefix("https").removeprefix("http"),
                "qr": qr_svg(address, "QR code of the calendar's address") if root else "",
                "in_clear": bool(root) and address.startswith("http:"),
            }
            form = CalendarAddressForm()
    rows = request.user.calendar_addresses
    context |= {
        "live": rows.filter(revoked_at=None),
        "revoked": rows.exclude(revoked_at=None).order_by("-revoked_at")[:REVOKED_SHOWN],
    }
    return page(request, "site/calendar_addresses.html", context, form)


def _revoked(request: HttpRequest) -> HttpResponse:
    try:
        gone = revoke_address(pk=key_in(request.POST["revoke"]), person=request.user)
    except Refusal as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"{gone.name} is revoked: nobody reads there any more.")
    return redirect("calendar-addresses")


@PUBLIC
@require_safe
def calendar_feed(request: HttpRequest, token: str) -> HttpResponse:
    """Of an address that is not good it says nothing, not even whether it ever was."""
    address = find_address(token)
    if address is None or request.studio is None:
        return HttpResponseNotFound("Not found.\n", content_type="text/plain; charset=utf-8")
    today = timezone.localdate()
    body = calendar_of(
        request.studio, all_days(today), root=f"{request.scheme}://{request.get_host()}", today=today
    )
    note_reading(address)
    answer = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="days.ics"'
    answer["Cache-Control"] = "private, no-cache"
    etag = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
    answer["ETag"] = etag
    return get_conditional_response(request, etag=etag, response=answer)
