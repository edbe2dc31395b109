"""Kinds of core: the table, a new one, correcting one."""

from django.contrib import messages
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from stash.access import OWNERS
from stash.forms.cores import CoreAddForm, CoreForm
from stash.measuring import measures_of
from stash.models import CoreKind
from stash.services.cores import add_core, change_core, changes_of
from stash.views.answers import page, posted, served, tell_undercut

_NAMES = {"mass_mg": "mass"}


@OWNERS
def cores(request: HttpRequest) -> HttpResponse:
    form = CoreAddForm(posted(request), measures=measures_of(request.studio))

    def write() -> CoreKind:
        return add_core(name=form.cleaned_data["name"], mass_mg=form.cleaned_data["mass"])

    if request.method == "POST" and (kind := served(form, write, _NAMES)):
        messages.success(request, f"{kind.name} is kept. It is offered wherever a core is asked for.")
        return redirect("cores")
    kinds = CoreKind.objects.annotate(standing=Count("cones", filter=Q(cones__retired_at=None)))
    return page(request, "stash/cores.html", {"kinds": kinds}, form)


@OWNERS
def core_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Another mass is first shown with what it would change, then kept when it is sent once more."""
    kind = get_object_or_404(CoreKind, pk=pk)
    measures = measures_of(request.studio)
    form = CoreForm(posted(request), initial=CoreForm.texts_of(kind), measures=measures)
    changes, asked_mg = [], None
    if request.method == "POST" and form.is_valid() and form.cleaned_data["mass"] != kind.mass_mg:
        asked_mg = form.cleaned_data["mass"]
        if request.POST.get("seen") != str(asked_mg):
            changes = changes_of(kind, asked_mg)
    if request.method == "POST" and not changes:
        written = served(
            form,
            lambda: change_core(
                pk=pk,
                version=form.cleaned_data["version"] or 0,
                name=form.cleaned_data["name"],
                mass_mg=form.cleaned_data["mass"],
                by=request.user,
            ),
            _NAMES,
        )
        if written:
            changed, done = written
            entries = sum(1 for one in done if one.change_mg)
            said = f" {entries} cone{'' if entries == 1 else 's'} changed by an entry." if done else ""
            messages.success(request, f"{changed.name} weighs {measures.mass(changed.mass_mg)}.{said}")
            for one in done:
                tell_undercut(request, one.cone, measures)
            return redirect("cores")
    context = {"kind": kind, "changes": changes, "asked_mg": asked_mg}
    return page(request, "stash/core_form.html", context, form)
