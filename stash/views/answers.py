"""What views of the shelf have in common: how a service's no, or a step with a page of its own, is answered."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render

from stash.calc.writing import Measures
from stash.forms import offers
from stash.forms.fields import MeasuredForm
from stash.forms.versions import VersionedForm
from stash.models import Cone
from stash.services.refusal import ChangedMeanwhile, Refusal

REFUSED = 422


def posted(request: HttpRequest) -> QueryDict | None:
    """What a form is bound to: also an empty post, which is refused like any other."""
    return request.POST if request.method == "POST" else None


def served(form: MeasuredForm, write: Callable[[], Any], names: dict[str, str] | None = None) -> Any:
    """What a service gives back, or None when the form is refused, by itself or by the service."""
    if not form.is_valid():
        return None
    try:
        return write()
    except ChangedMeanwhile as error:
        if isinstance(form, VersionedForm):
            form.show_both(error, error.current)
        else:
            form.refuse(error)
    except (Refusal, ValidationError) as error:
        form.refuse(error, names)
    return None


def page(request: HttpRequest, template: str, context: dict[str, Any], form: Any = None) -> HttpResponse:
    """The page; with status 422 where its form was refused."""
    status = REFUSED if form is not None and form.is_bound and form.errors else 200
    return render(request, template, {"section": "yarn", "form": form} | context, status=status)


def tell_undercut(request: HttpRequest, cone: Cone, measures: Measures) -> None:
    """Say for whom a cone no longer holds what is reserved on it, if that is so."""
    if not cone.undercut_mg:
        return
    grist = cone.shade.yarn.grist
    held = ", ".join(
        f"{measures.long_length(line.length_um)} ({measures.mass(line.mass_mg)}) for {line.claim.name}"
        for line in cone.reservations.by_need()
    )
    messages.warning(
        request,
        f"This undercuts what is reserved on cone {cone.code} by "
        f"{measures.long_length(grist.length_um_of(cone.undercut_mg), 'up')} ({measures.mass(cone.undercut_mg)}). "
        f"Reserved: {held}.",
    )


def asks_names(request: HttpRequest) -> bool:
    """Does a page only ask what its fields for shade and lot may offer?"""
    return bool(request.htmx) and request.htmx.target == "known-names"


def known_names(request: HttpRequest) -> HttpResponse:
    """What the fields for shade and lot offer, after the yarn that is chosen and the shade as far as it is typed."""
    yarn_id = key_in(request.GET.get("yarn", "")) or None
    typed = request.GET.get("shade", "")[:80]
    names = {"shade_names": offers.shade_names(yarn_id, typed), "lot_names": offers.lots_of(yarn_id, typed)}
    return render(request, "stash/_known_names.html", names)


def key_in(text: Any) -> int:
    """The key of a row out of an address or a form; 0, which no row has, for anything else."""
    text = str(text)
    return int(text) if text.isdecimal() and len(text) < 19 else 0
