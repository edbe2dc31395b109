"""Of which lots a project takes its shades."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from projects.forms.wishes import WishesForm
from projects.models import Project
from projects.outputs import kept_outputs
from projects.services.wishes import PlanChanged, set_wishes
from stash.access import OWNERS
from stash.measuring import measures_of
from stash.views.answers import page, posted, served


@OWNERS
def project_wishes(request: HttpRequest, pk: int) -> HttpResponse:
    """A page of its own for what stands folded on the project's page, where a choice is refused."""
    project = get_object_or_404(Project.objects.with_shades(), pk=pk)
    measures = measures_of(request.studio)
    found = kept_outputs(project, measures, cloth_src="-")
    form = WishesForm(
        posted(request),
        measures=measures,
        rows=project.shades.all(),
        found=found,
        version=project.version,
    )

    def write() -> Project:
        try:
            return set_wishes(pk=pk, wishes=form.wishes(), version=form.cleaned_data["version"])
        except PlanChanged:
            # What was chosen is kept, so that a second save puts it in place. For nothing else that is refused does
            # the version move on: the change would be overwritten without a word of it.
            form.data = form.data.copy()
            form.data["version"] = str(project.version)
            raise

    if request.method == "POST" and served(form, write):
        messages.success(request, "The lots are chosen so, and the verdict is judged by them.")
        return redirect("project-page", pk)
    context = {"section": "projects", "project": project, "out": found}
    return page(request, "projects/project_wishes.html", context, form)
