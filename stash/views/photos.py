"""Photos of shades and cones: sending, removing, showing."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_safe

from stash.access import HELPERS_ONLY, OWNERS, VIEWERS
from stash.forms.photos import PhotoForm
from stash.models import Cone, Photo, Shade
from stash.services.photos import MOST_BYTES, photos_folder, remove_photo, take_photo, too_large
from stash.services.refusal import Refusal
from stash.views.answers import page, posted


@VIEWERS
@require_safe
def photo(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Photo, pk=pk)
    return picture(request, found.file, found.mark)


def picture(request: HttpRequest, file: str, mark: str) -> HttpResponse:
    """The picture itself. What stands under an address with its mark never changes, so a browser may keep it, but
    nobody between; without the mark it asks again."""
    path = photos_folder() / file
    if path.parent != photos_folder():
        raise Http404("No such photo.")
    try:
        drawn = path.read_bytes()
    except OSError as error:
        raise Http404("The file of this photo is missing.") from error
    is_marked = request.GET.get("v") == mark
    headers = {
        "Cache-Control": f"private, {'max-age=31536000, immutable' if is_marked else 'no-cache'}",
        "X-Content-Type-Options": "nosniff",
        "Content-Disposition": "inline",
    }
    return HttpResponse(drawn, content_type="image/jpeg", headers=headers)


@OWNERS
def shade_photo(request: HttpRequest, pk: int) -> HttpResponse:
    shade = get_object_or_404(Shade.objects.select_related("yarn"), pk=pk)
    return _change(request, shade, "shade-page", shade_id=pk)


@HELPERS_ONLY
def cone_photo(request: HttpRequest, pk: int) -> HttpResponse:
    cone = get_object_or_404(Cone, pk=pk)
    return _change(request, cone, "cone-page", cone_id=pk)


def _change(request: HttpRequest, thing: Any, back: str, **of: int) -> HttpResponse:
    form = PhotoForm(posted(request), request.FILES if request.method == "POST" else None)
    if request.method == "POST":
        try:
            if "remove" in request.POST:
                remove_photo(**of)
                messages.success(request, f"{thing} has no photo now.")
                return redirect(back, thing.pk)
            if getattr(request, "upload_too_large", False):
                raise too_large()
            if form.is_valid():
                take_photo(sent=form.cleaned_data["file"].read(MOST_BYTES + 1), **of)
                messages.success(request, f"{thing} has its photo.")
                return redirect(back, thing.pk)
        except (Refusal, ValidationError) as error:
            form.errors.clear()
            form.refuse(error)
    return page(
        request, "stash/photo.html", {"thing": thing, "back": back, "photo": thing.photos.last()}, form
    )


shade_photo.most_upload = MOST_BYTES  # type: ignore[attr-defined]
cone_photo.most_upload = MOST_BYTES  # type: ignore[attr-defined]
