"""Copying a project: last year's plan for this year."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from projects.forms.copying import CopyForm
from projects.models import Project
from projects.services.copying import copy_project
from projects.wording import together
from stash.access import OWNERS
from stash.calc.errors import CalcError
from stash.services.refusal import Refusal
from stash.views.answers import page, posted


@OWNERS
def project_copy(request: HttpRequest, pk: int) -> HttpResponse:
    project = get_object_or_404(Project, pk=pk)
    rows = project.shades.select_related("shade__yarn").exclude(shade__retired_at=None)
    form = CopyForm(posted(request), project=project, retired=list(rows))
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            copied = copy_project(
                pk=pk,
                name=typed["name"],
                occasion=typed["occasion"],
                need_on=typed["need_on"],
                instead=form.instead(),
                notes=typed["notes"],
                photos=typed["photos"],
            )
        except (Refusal, CalcError, ValidationError) as error:
            form.refuse(error)
        else:
            copy = copied.project
            messages.success(
                request, f"{copy.name} is planned after {project.name}. Nothing is reserved for it yet."
            )
            if copy.open_keys:
                messages.warning(
                    request, f"{together(copy.open_keys.split())} of the plan stays open: name its shade."
                )
            if copied.left_out:
                messages.warning(
                    request, f"{together(copied.left_out)}: retired, so the new plan is without. Choose anew."
                )
            for sentence in copied.wishes_gone:
                messages.warning(request, sentence)
            return redirect("project-page", copy.pk)
    return page(request, "projects/project_copy.html", {"section": "projects", "project": project}, form)
