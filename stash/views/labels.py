"""Labels to print, and the short address that stands on them."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect

from stash.access import VIEWERS
from stash.forms.labels import MOST, SIZES, LabelForm
from stash.label_address import cone_of_code, label_root, warning_of
from stash.measuring import measures_of
from stash.tables.labels import cones_for_labels, write_label
from stash.views.answers import page


@VIEWERS
def labels(request: HttpRequest) -> HttpResponse:
    """A sheet of labels: /yarn/labels/?cones=3,4,5&size=card."""
    form = LabelForm(request.GET)
    root = label_root(request.studio)
    context = {"root": root, "warning": warning_of(root), "labels": []}
    if form.is_valid():
        size = SIZES[form.cleaned_data["size"]]
        context |= {"size": size, "lines": range(size.pencil)}
        if form.names_cones:
            cones = list(cones_for_labels(form.chosen())[: MOST + 1])
            if len(cones) > MOST:
                form.add_error(None, f"These are more than {MOST} labels. Choose fewer cones.")
            elif not cones:
                form.add_error(None, "None of these cones is there. Choose others.")
            else:
                measures = measures_of(request.studio)
                context["labels"] = [write_label(cone, measures, root) for cone in cones]
    return page(request, "stash/labels.html", context, form)


@VIEWERS
def label(request: HttpRequest, code: str) -> HttpResponse:
    """Where a label leads. Codes may be given anew, so no browser is told that this is for ever."""
    cone = cone_of_code(code)
    if cone is None:
        raise Http404(f"There is no cone {code}.")
    return redirect("cone-page", cone.pk)
