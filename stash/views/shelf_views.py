"""Views of the Yarn page that a person keeps: each sees and removes their own."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from stash.access import VIEWERS
from stash.forms.photos import ViewForm
from stash.services.shelf_views import drop_view, keep_view, tidy_query
from stash.views.answers import key_in, page, posted, served


@VIEWERS
def shelf_views(request: HttpRequest) -> HttpResponse:
    """The address carries the filters that are to be kept, as the Yarn page has them."""
    query = tidy_query(request.GET.urlencode())
    if request.method == "POST" and "remove" in request.POST:
        drop_view(person=request.user, pk=key_in(request.POST["remove"]))
        messages.success(request, "The view is removed.")
        return redirect("shelf-views")
    form = ViewForm(posted(request))
    if request.method == "POST" and (
        view := served(
            form, lambda: keep_view(person=request.user, name=form.cleaned_data["name"], query=query)
        )
    ):
        messages.success(request, f"{view.name} is kept. It stands above the filters.")
        return redirect(f"{reverse('yarn')}?{view.query}")
    context = {"query": query, "views": request.user.views.all()}
    return page(request, "stash/shelf_views.html", context, form)
