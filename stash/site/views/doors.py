"""First run, signing in and out."""

from axes.helpers import get_cool_off, get_failure_limit
from django.contrib.auth import authenticate, login, logout
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from stash.access import PUBLIC
from stash.models import Person, Role
from stash.services.studio import found_studio
from stash.site.demo import DEMO_OWNER, DEMO_PASSWORD
from stash.site.forms import SignInForm, WelcomeForm
from stash.views.answers import posted, served

BACKEND = "django.contrib.auth.backends.ModelBackend"


@PUBLIC
@never_cache
@sensitive_post_parameters("password", "again")
def welcome(request: HttpRequest) -> HttpResponse:
    """First run: name the studio, choose its units, make the owner's sign-in."""
    if request.studio is not None:
        return redirect("today")
    form = WelcomeForm(posted(request))
    owner = served(form, lambda: found_studio(**form.facts))
    if owner:
        login(request, owner, backend=BACKEND)
        return redirect("today")
    return render(request, "site/welcome.html", {"form": form}, status=422 if form.is_bound else 200)


@PUBLIC
@never_cache
@sensitive_post_parameters("password")
def sign_in(request: HttpRequest) -> HttpResponse:
    """How often a wrong password may be tried is counted behind `authenticate` (django-axes)."""
    onward = safe_onward(request)
    if request.user.is_authenticated:
        return redirect(onward)
    form = SignInForm(posted(request))
    if form.is_valid():
        person = authenticate(request, **form.cleaned_data)
        if person is not None:
            login(request, person)
            return redirect(onward)
        form.add_error(
            None, "This name and this password do not go together. Capitals matter in the password only."
        )
    return render(
        request,
        "site/sign_in.html",
        {"form": form, "onward": onward, "demo_name": DEMO_OWNER, "demo_password": DEMO_PASSWORD},
        status=422 if form.is_bound else 200,
    )


@PUBLIC
@require_POST
def sign_in_demo(request: HttpRequest) -> HttpResponse:
    """One click into the demo studio, as its owner; in any other studio there is no such door."""
    if not request.studio.is_demo:
        raise Http404
    owner = Person.objects.filter(role=Role.OWNER, is_active=True).order_by("pk").first()
    if owner is None:
        raise Http404
    login(request, owner, backend=BACKEND)
    return redirect(safe_onward(request))


@PUBLIC
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("sign-in")


def locked_out(request: HttpRequest, *_: object) -> HttpResponse:
    """What django-axes answers with after too many wrong passwords. It waits anew at each try."""
    minutes = int(get_cool_off(request).total_seconds() // 60)
    by_code = request.resolver_match.url_name in ("phone-typed", "phone-sign-in")
    context = {"tries": get_failure_limit(request, None), "minutes": minutes, "by_code": by_code}
    answer = render(request, "site/locked_out.html", context, status=429)
    answer["Retry-After"] = str(minutes * 60)
    return answer


def tried_name(request: HttpRequest, credentials: dict[str, str] | None = None) -> str:
    """The name that tries are counted by: in whatever capitals it is typed, it is one person's."""
    name = (credentials or {}).get("username") or request.POST.get("username", "")
    return str(Person.normalize_username(name.strip())).casefold()


def safe_onward(request: HttpRequest) -> str:
    """Where `next` leads if that is a page of this site; Today otherwise."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    ours = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return wanted if ours else reverse("today")
