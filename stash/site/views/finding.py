"""One search over shades, cones and projects; and where a claim is shown."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from stash.access import VIEWERS
from stash.label_address import cone_of_code, read_scanned
from stash.measuring import measures_of
from stash.models import Claim
from stash.site import finding
from stash.site.forms import FindForm

SHOWN = 100


@VIEWERS
def find(request: HttpRequest) -> HttpResponse:
    scanned = read_scanned(request.GET.get("q", ""))
    if scanned and (cone := scanned.find()):
        return redirect("cone-page", pk=cone.pk)
    form = FindForm(request.GET)
    if not form.is_valid():
        return render(request, "site/find.html", {"form": form}, status=422)
    text = form.cleaned_data["q"]
    cone = cone_of_code(text) if text else None
    if cone is not None:
        return redirect("cone-page", pk=cone.pk)
    groups = finding.find(text, measures_of(request.studio)) if text else []
    return render(request, "site/find.html", {"form": form, "sought": text, "groups": groups})


@VIEWERS
def claim(request: HttpRequest, pk: int) -> HttpResponse:
    """A claim is shown on its project's page; one that no project holds gets a small page of its own."""
    found = get_object_or_404(Claim.objects.select_related("project"), pk=pk)
    if hasattr(found, "project"):
        return redirect("project-page", pk=found.project.pk)
    lines = found.reservations.select_related("cone__shade__yarn", "cone__lot").order_by("cone_id", "use")
    measures = measures_of(request.studio)
    held = [
        {
            "line": line,
            "mass": measures.mass(line.mass_mg, "up"),
            "length": measures.long_length(line.length_um),
        }
        for line in lines[:SHOWN]
    ]
    return render(request, "site/claim.html", {"claim": found, "held": held, "count": lines.count()})
