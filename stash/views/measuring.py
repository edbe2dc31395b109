"""Measuring a yarn: so much wound off, and what it weighs."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from stash.access import OWNERS
from stash.forms.measuring import MeasureForm
from stash.measuring import measures_of
from stash.models import Yarn
from stash.services.measuring import measure_yarn, reserved_otherwise
from stash.tables.grists import grists_of
from stash.views.answers import page, posted, served


@OWNERS
def yarn_measure(
    request: HttpRequest, pk: int, otherwise: Callable[[Yarn], list[str]] = reserved_otherwise
) -> HttpResponse:
    """`otherwise` names who reckons with another figure: the shelf knows its claims, the site all that plan."""
    yarn = get_object_or_404(Yarn, pk=pk)
    measures = measures_of(request.studio)
    form = MeasureForm(posted(request), initial=MeasureForm.texts_of(yarn), measures=measures)

    def write() -> Yarn:
        return measure_yarn(pk=pk, version=form.cleaned_data["version"] or 0, weighings=form.weighings())

    if request.method == "POST" and (measured := served(form, write)):
        said = (
            "is in use from now on"
            if measured.grist_source == "measured"
            else "is kept; the figure chosen by hand stays in use"
        )
        grist = next(line.grist for line in grists_of(measured) if line.grist)
        messages.success(request, f"Measured {measures.grist(grist)}: it {said}.")
        return redirect("yarn-page", pk)
    context = {"yarn": yarn, "grists": grists_of(yarn), "otherwise": otherwise(yarn)}
    return page(request, "stash/yarn_measure.html", context, form)
