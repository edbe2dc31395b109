"""The studio's own facts, and its people."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import authenticate, update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from stash.access import OWNERS, OWNERS_CHANGE, VIEWERS
from stash.label_address import label_root
from stash.measuring import measures_of
from stash.models import Person
from stash.services.people import add_person, change_person, set_password
from stash.services.refusal import Refusal
from stash.services.studio import change_studio
from stash.site.forms import ROLE_WORDS, NewPersonForm, OwnPasswordForm, PersonForm, StudioForm
from stash.site.label_address import label_address_troubles
from stash.views.answers import REFUSED, posted, served


@OWNERS_CHANGE
def studio(request: HttpRequest) -> HttpResponse:
    """Owners change the studio here; everyone reads what it is, who is in it and what each may do."""
    form = StudioForm(
        posted(request), initial=StudioForm.texts_of(request.studio), measures=measures_of(request.studio)
    )
    before = request.studio.currency
    if served(form, lambda: change_studio(**form.cleaned_data)):
        messages.success(request, "The studio is changed.")
        if form.cleaned_data["currency"] != before:
            messages.warning(
                request,
                f"The studio counts in {form.cleaned_data['currency']} now. Suppliers and orders with amounts stay in "
                f"{before}; prices that are noted with cones keep their figure, so look through them.",
            )
        for words in label_address_troubles(form.cleaned_data["label_address"]):
            messages.warning(request, words)
        return redirect("studio")
    context = {
        "people": Person.objects.all(),
        "roles": ROLE_WORDS.items(),
        "label_root": label_root(request.studio),
    }
    return _page(request, "site/studio.html", form, context)


@OWNERS
@never_cache
@sensitive_post_parameters("password", "again")
def person_new(request: HttpRequest) -> HttpResponse:
    form = NewPersonForm(posted(request))
    person = served(form, lambda: add_person(**form.facts))
    if person:
        messages.success(
            request, f"{person} can sign in as {person.username}. Hand over the password yourself."
        )
        return redirect("studio")
    return _page(request, "site/person_new.html", form)


@OWNERS
@never_cache
@sensitive_post_parameters("password", "again")
def person_edit(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk)
    form = PersonForm(
        posted(request), initial=PersonForm.texts_of(person), measures=measures_of(request.studio)
    )
    changed = served(form, lambda: change_person(pk=pk, **form.facts))
    if changed:
        if form.facts["password"] and changed.pk == request.user.pk:
            update_session_auth_hash(request, changed)
        messages.success(request, f"{changed} is changed.")
        return redirect("studio")
    return _page(request, "site/person_edit.html", form, {"edited": person})


@VIEWERS
@never_cache
@sensitive_post_parameters("current", "password", "again")
def password(request: HttpRequest) -> HttpResponse:
    """Everyone changes their own. Wrong tries at the present one are counted like those at the door."""
    form = OwnPasswordForm(posted(request))
    person = served(form, lambda: _change_own(request, form))
    if person:
        update_session_auth_hash(request, person)
        messages.success(request, "Your password is changed. Wherever else you were signed in, you are out.")
        return redirect("studio")
    return _page(request, "site/password.html", form)


def _change_own(request: HttpRequest, form: OwnPasswordForm) -> Person:
    typed = form.cleaned_data
    if not authenticate(request, username=request.user.username, password=typed["current"]):
        raise Refusal("This is not your password.", field="current")
    return set_password(pk=request.user.pk, password=typed["password"])


def _page(
    request: HttpRequest, template: str, form: Any, context: dict[str, Any] | None = None
) -> HttpResponse:
    status = REFUSED if form.is_bound else 200
    return render(request, template, {"section": "studio", "form": form} | (context or {}), status=status)
