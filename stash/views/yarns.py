"""Kinds of yarn."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from stash.access import OWNERS, VIEWERS
from stash.forms.fields import MeasuredForm
from stash.forms.yarns import YarnForm
from stash.measuring import measures_of
from stash.models import Shade, Yarn
from stash.services.yarns import retire_yarn, save_yarn
from stash.tables.grists import grists_of
from stash.tables.shades import ShadeData
from stash.views.answers import page, posted, served

# The service speaks of the columns of a yarn, the form of what people type.
_NAMES = {"count_written": "count", "count_system": "system"}


@OWNERS
def yarn_new(request: HttpRequest) -> HttpResponse:
    form = YarnForm(posted(request), measures=measures_of(request.studio))
    if request.method == "POST" and (yarn := served(form, lambda: save_yarn(facts=form.facts()), _NAMES)):
        messages.success(request, f"{yarn.name} is kept. Add its first cone, or its shades.")
        return redirect("yarn-page", yarn.pk)
    return page(request, "stash/yarn_form.html", {}, form)


@VIEWERS
def yarn_page(request: HttpRequest, pk: int) -> HttpResponse:
    yarn = get_object_or_404(Yarn.objects.prefetch_related("fibres"), pk=pk)
    data = ShadeData(yarn.shades.live().with_stock(), measures_of(request.studio))
    gone = Shade.objects.retired().filter(yarn=yarn)
    context = {
        "yarn": yarn,
        "yarn_key": str(pk),
        "grists": grists_of(yarn),
        "shades": data[:],
        "data": data,
        "gone": gone,
    }
    return page(request, "stash/yarn_page.html", context)


@OWNERS
def yarn_edit(request: HttpRequest, pk: int) -> HttpResponse:
    yarn = get_object_or_404(Yarn, pk=pk)
    form = YarnForm(posted(request), initial=YarnForm.texts_of(yarn), measures=measures_of(request.studio))
    if request.method == "POST" and served(
        form,
        lambda: save_yarn(facts=form.facts(), pk=pk, version=form.cleaned_data["version"] or 0),
        _NAMES,
    ):
        messages.success(request, f"{form.cleaned_data['name']} is changed.")
        return redirect("yarn-page", pk)
    return page(request, "stash/yarn_form.html", {"yarn": yarn}, form)


@OWNERS
def yarn_retire(request: HttpRequest, pk: int) -> HttpResponse:
    yarn = get_object_or_404(Yarn, pk=pk)
    form = MeasuredForm(posted(request), measures=measures_of(request.studio))
    back = yarn.retired_at is not None
    if request.method == "POST" and served(form, lambda: retire_yarn(pk=pk, back=back)):
        messages.success(request, f"{yarn.name} is {'back in use' if back else 'retired'}.")
        return redirect("yarn-page", pk)
    context = {"yarn": yarn, "back": back, "standing": yarn.shades.live() if not back else ()}
    return page(request, "stash/yarn_retire.html", context, form)
