"""A phone signs in once, by a code that a signed-in person shows it."""

from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from stash.access import PUBLIC, VIEWERS
from stash.models import PhoneCode
from stash.qr import qr_svg
from stash.services.phones import LIFE, make_codes, use_code
from stash.site.forms import PhoneCodeForm
from stash.site.phones import reachable_address, try_code
from stash.site.views.doors import BACKEND
from stash.views.answers import REFUSED, posted

MOST_NEXT = PhoneCode._meta.get_field("next_address").max_length


@VIEWERS
@never_cache
def phone(request: HttpRequest) -> HttpResponse:
    """Asks first: a code is made by the button alone, and shown once, since only its hash is kept."""
    onward = _page_here(request.POST.get("next") or request.GET.get("next") or "")
    root = reachable_address(request)
    context = {"section": "studio", "onward": onward, "root": root, "minutes": LIFE.seconds // 60}
    if request.method == "POST" and "make" in request.POST and root:
        codes = make_codes(person=request.user, next_address=onward)
        there = root + reverse("phone-sign-in", args=[codes.in_address])
        context |= {
            "qr": qr_svg(there, "QR code that signs a phone in"),
            "typed": codes.spaced,
            "typed_at": root + reverse("phone-typed"),
        }
    return render(request, "site/phone.html", context)


@PUBLIC
@never_cache
@sensitive_post_parameters("code")
def phone_typed(request: HttpRequest) -> HttpResponse:
    """The code in letters, for a phone without a camera that reads. Typing it says that one wants in."""
    form = PhoneCodeForm(posted(request))
    onward = _page_here(request.POST.get("next") or request.GET.get("next") or "")
    if form.is_valid():
        found = try_code(request, form.cleaned_data["code"])
        if found and use_code(found):
            return _come_in(request, found, onward)
        form.add_error(
            "code", "This code does not sign in. It is wrong, was used, or is older than five minutes."
        )
    context = {"form": form, "onward": onward}
    return render(request, "site/phone_typed.html", context, status=REFUSED if form.is_bound else 200)


@PUBLIC
@never_cache
def phone_sign_in(request: HttpRequest, code: str) -> HttpResponse:
    """Reading asks and the button signs in: what previews links for people uses up nothing."""
    found = try_code(request, code)
    if found is None or (request.method == "POST" and not use_code(found)):
        return render(request, "site/phone_code_over.html", status=404)
    if request.method == "POST":
        return _come_in(request, found)
    return render(request, "site/phone_sign_in.html", {"whose": found.person})


def _come_in(request: HttpRequest, found: PhoneCode, onward: str = "") -> HttpResponse:
    """`onward` is what the phone itself was looking for, as a cone whose label it read: that comes first."""
    login(request, found.person, backend=BACKEND)
    messages.success(request, f"This phone is signed in as {found.person}.")
    return redirect(onward or _page_here(found.next_address) or "today")


def _page_here(address: str) -> str:
    """The address if it is a page of this site without its host: on the phone that is another one; else ""."""
    ours = address.startswith("/") and url_has_allowed_host_and_scheme(address, allowed_hosts=None)
    return address if ours and len(address) <= MOST_NEXT else ""
