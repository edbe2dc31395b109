"""First run, the other way: a whole studio out of an archive."""

from django.contrib import messages
from django.contrib.auth import login
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from stash.access import PUBLIC
from stash.models import Person
from stash.services.refusal import Refusal
from stash.site.archive import open_studio
from stash.site.forms import OpenArchiveForm
from stash.site.views.doors import BACKEND


@PUBLIC
@never_cache
@sensitive_post_parameters("password", "again")
def open_archive(request: HttpRequest) -> HttpResponse:
    """One of the archive's owners gets a password and comes in; the others are given theirs later."""
    if request.studio is not None:
        return redirect("today")
    is_post = request.method == "POST"
    form = OpenArchiveForm(request.POST, request.FILES) if is_post else OpenArchiveForm()
    if getattr(request, "upload_too_large", False):
        form.say_too_large()
    if form.is_valid():
        facts = form.cleaned_data
        try:
            open_studio(facts["archive"].file, username=facts["username"], password=facts["password"])
        except (Refusal, ValidationError) as error:
            form.refuse(error, names={"": "archive", "__all__": "archive"})
        else:
            owner = Person.objects.get_by_natural_key(Person.normalize_username(facts["username"].strip()))
            login(request, owner, backend=BACKEND)
            messages.success(
                request,
                "The archive is open. Others in it cannot sign in yet: give each a password on the Studio page.",
            )
            return redirect("today")
    return render(request, "site/open_archive.html", {"form": form}, status=422 if form.is_bound else 200)
