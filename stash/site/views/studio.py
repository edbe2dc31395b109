"""The studio's own facts, and its people."""

from django.contrib import messages
from django.contrib.auth import authenticate, update_session_auth_hash
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from stash.access import OWNERS, OWNERS_CHANGE, VIEWERS
from stash.models import Person
from stash.services.people import add_person, change_person, set_password
from stash.services.refusal import Refusal
from stash.services.studio import change_studio
from stash.site.forms import ROLE_WORDS, NewPersonForm, OwnPasswordForm, PersonForm, StudioForm

SECTION = {"section": "studio"}


@OWNERS_CHANGE
def studio(request: HttpRequest) -> HttpResponse:
    """Owners change the studio here; everyone reads what it is, who is in it and what each may do."""
    now = {name: getattr(request.studio, name) for name in ("name", "measuring", "spelling")}
    form = StudioForm(request.POST or None, initial=now)
    if form.is_valid():
        try:
            change_studio(**form.cleaned_data)
        except ValidationError as error:
            form.refuse(error)
        else:
            messages.success(request, "The studio is changed.")
            return redirect("studio")
    context = SECTION | {"form": form, "people": Person.objects.all(), "roles": ROLE_WORDS.items()}
    return render(request, "site/studio.html", context, status=422 if form.is_bound else 200)


@OWNERS
@never_cache
@sensitive_post_parameters("password", "again")
def person_new(request: HttpRequest) -> HttpResponse:
    form = NewPersonForm(request.POST or None)
    if form.is_valid():
        facts = {name: value for name, value in form.cleaned_data.items() if name != "again"}
        try:
            person = add_person(**facts)
        except ValidationError as error:
            form.refuse(error, names={"__all__": "username"})
        else:
            messages.success(
                request, f"{person} can sign in as {person.username}. Hand over the password yourself."
            )
            return redirect("studio")
    context = SECTION | {"form": form}
    return render(request, "site/person_new.html", context, status=422 if form.is_bound else 200)


@OWNERS
@never_cache
@sensitive_post_parameters("password", "again")
def person_edit(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(Person, pk=pk)
    now = {"name": person.name, "role": person.role, "is_active": person.is_active}
    form = PersonForm(request.POST or None, initial=now)
    if form.is_valid():
        facts = {name: value for name, value in form.cleaned_data.items() if name != "again"}
        try:
            person = change_person(pk=pk, **facts)
        except (Refusal, ValidationError) as error:
            form.refuse(error)
        else:
            if facts["password"] and person.pk == request.user.pk:
                update_session_auth_hash(request, person)
            messages.success(request, f"{person} is changed.")
            return redirect("studio")
    context = SECTION | {"form": form, "edited": person}
    return render(request, "site/person_edit.html", context, status=422 if form.is_bound else 200)


@VIEWERS
@never_cache
@sensitive_post_parameters("current", "password", "again")
def password(request: HttpRequest) -> HttpResponse:
    """Everyone changes their own. Wrong tries at the present one are counted like those at the door."""
    form = OwnPasswordForm(request.POST or None)
    if form.is_valid():
        known = authenticate(request, username=request.user.username, password=form.cleaned_data["current"])
        try:
            if known is None:
                raise Refusal("This is not your password.", field="current")
            person = set_password(pk=known.pk, password=form.cleaned_data["password"])
        except (Refusal, ValidationError) as error:
            form.refuse(error)
        else:
            update_session_auth_hash(request, person)
            messages.success(
                request, "Your password is changed. Wherever else you were signed in, you are out."
            )
            return redirect("studio")
    context = SECTION | {"form": form}
    return render(request, "site/password.html", context, status=422 if form.is_bound else 200)
