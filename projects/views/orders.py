"""An order as rows: what the buttons beside the typed line ask for."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST

from projects.models import Project
from projects.order_rows import ORDER_FIELDS, edit, editor
from projects.views.pages import plan_form
from stash.access import OWNERS
from stash.calc.errors import CalcError

MOST_TICKED = 200


@OWNERS
@require_POST
def order_rows(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """The rows of a line as it is typed, after what `do` asks of it. Nothing is kept.

    The whole plan's form comes along: shades have names there, and the width follows from it. What cannot be done
    is answered with 422 and a sentence, and the rows stay as they are. A line that cannot be read yet, since it is
    being typed, is no refusal: its field says what is wrong with it.
    """
    project = get_object_or_404(Project.objects.with_shades(), pk=pk) if pk else None
    name = request.POST.get("order", "")
    if name not in ORDER_FIELDS:
        return _refused("This page is too old for that. Load it again.")
    changes = request.POST.get("do", "read") != "read"
    form = plan_form(request, project, request.POST)
    form.is_valid()
    try:
        edited = edit(form, name, request.POST.dict(), request.POST.getlist("row")[:MOST_TICKED])
    except CalcError as error:
        return _refused(error.message) if changes else HttpResponse()
    if changes:
        data = request.POST.copy()
        data[name] = edited.order.text if edited.order else ""
        for field, text in edited.fields.items():
            data[field] = text
        form = plan_form(request, project, data)
        form.is_valid()
    found = editor(form, name, project, edited)
    return render(request, "projects/_order_rows.html", {"editor": found, "person": request.user})


def _refused(sentence: str) -> HttpResponse:
    return HttpResponse(sentence, content_type="text/plain; charset=utf-8", status=422)
