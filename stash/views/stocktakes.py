"""Stocktakes: the list, the counting page, the counts that a page sends by itself, closing and the report."""

import json
from datetime import timedelta
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from stash.access import HELPERS, HELPERS_ONLY, VIEWERS
from stash.calc.writing import Measures
from stash.forms.fields import MeasuredForm
from stash.forms.stocktake import BeginForm, CountForm
from stash.label_address import cone_named
from stash.measuring import measures_of
from stash.models import Cone, Count, CountKey, Finding, Person, Stocktake
from stash.services.refusal import Refusal
from stash.services.stocktaking import Figure, Taken, begin, close, count
from stash.tables.stocktake_report import write_report
from stash.tables.stocktakes import (
    CountLine,
    cone_about,
    count_lines,
    count_words,
    looks_off,
    open_rounds,
    places_with_cones,
    with_fibres,
)
from stash.views.answers import REFUSED, key_in, page, posted, served

PAST_SHOWN = 30
MOST_AT_ONCE = 100
_NAMES = {"place": "place", "scale_mg": "scale", "core_mg": "core"}


@HELPERS
def stocktakes(request: HttpRequest) -> HttpResponse:
    """What is open and what is past; a new one is begun here."""
    form = BeginForm(
        posted(request),
        places=places_with_cones(),
        cone_count=Cone.objects.live().count(),
        measures=measures_of(request.studio),
    )
    if request.method == "POST" and (
        begun := served(
            form,
            lambda: begin(place_id=form.place_id, by=request.user, note=form.cleaned_data["note"]),
            _NAMES,
        )
    ):
        return redirect("stocktake-page", begun.pk)
    past = list(Stocktake.objects.closed().with_names()[: PAST_SHOWN + 1])
    context = {
        "open_rounds": open_rounds(),
        "past": past[:PAST_SHOWN],
        "has_more": len(past) > PAST_SHOWN,
        "any_cone": Cone.objects.live().exists(),
    }
    return page(request, "stash/stocktakes.html", context, form)


# --- Going along the place ----------------------------------------------------------------------------------


@HELPERS
@never_cache
def stocktake_page(request: HttpRequest, pk: int) -> HttpResponse:
    """The counting page. With script it holds all it needs and never leaves; without, each count is a form."""
    stocktake = get_object_or_404(Stocktake.objects.with_names(), pk=pk)
    measures = measures_of(request.studio)
    form: CountForm | None = None
    if request.method == "POST":
        form = CountForm(request.POST, measures=measures)
        taken = served(form, lambda: _count(form, stocktake, request.user), _NAMES)
        if taken:
            _tell_taken(request, *taken, measures)
            return redirect(f"{reverse('stocktake-page', args=[pk])}?after={taken[1].cone_id}")
    lines = count_lines(stocktake, measures)
    cone = _cone_in_hand(request, lines, form)
    # The page without a connection counts a cone again, too: the form is there, if out of sight.
    all_done = cone is None
    if cone is None and lines:
        cone = lines[0].cone
    if form is None and cone is not None:
        form = CountForm(initial=CountForm.opened_with(cone, uuid4().hex), measures=measures)
    done = stocktake.counts.exclude(finding=Finding.PASSED).count()
    context = {
        "stocktake": stocktake,
        "lines": lines,
        "cone": cone,
        "all_done": all_done,
        "about": cone and cone_about(cone, measures, with_place=cone.place_id != stocktake.place_id),
        "found": next((line.found for line in lines if cone and line.cone.pk == cone.pk), ""),
        "may_count": request.user.may_handle and not stocktake.closed_at,
        "done": done,
        "left": len(lines) - done,
        "again": sum(1 for line in lines if line.look_again),
        "seen": _last_seen(stocktake),
        "csrf_cookie": settings.CSRF_COOKIE_NAME,
    }
    return page(request, "stash/stocktake_count.html", context, form)


def _count(form: CountForm, stocktake: Stocktake, by: Person, age: timedelta = timedelta(0)) -> Any:
    said = form.cleaned_data
    return count(
        stocktake_id=stocktake.pk,
        cone_id=said["cone"] or _named(said["code"]).pk,
        key=said["key"],
        figure=Figure(
            finding=said["finding"] or Finding.WEIGHED,
            scale_mg=said["scale"],
            gross=not said["yarn_only"],
            core_mg=said["core"],
            is_estimate=said["is_estimate"],
            note=said["note"],
        ),
        by=by,
        age=age,
    )


def _named(text: str) -> Cone:
    """The cone found here that belongs elsewhere by the books. Raises Refusal."""
    cone = cone_named(text) if text else None
    if cone is None:
        raise Refusal(f"No cone has the code {text[:40]}. Look at its label again, or add it as a new cone.")
    return cone


def _tell_taken(request: HttpRequest, taken: Taken, kept: Count, measures: Measures) -> None:
    code = kept.cone.code
    words = count_words(kept, measures)
    if taken == Taken.OLDER:
        messages.warning(request, f"{code}: a later count stands, {words}.")
    elif looks_off(kept, measures):
        messages.warning(request, f"{code}: {words}. That is far from the books: look again.")
    else:
        messages.success(request, f"{code}: {words}.")


def _cone_in_hand(request: HttpRequest, lines: list[CountLine], form: CountForm | None) -> Cone | None:
    """The cone that the page asks for: the one refused, the one chosen, or the next after ?after=.

    One is chosen by its key (?cone=), or by its code (?code=) where the page does not list it.
    """
    wanted = key_in((form["cone"].value() if form else None) or request.GET.get("cone", ""))
    typed = request.GET.get("code", "").replace("\0", "")[:300].strip()
    if typed and not wanted:
        named = cone_named(typed)
        if named and not named.retired_at:
            wanted = named.pk
        else:
            why = f"{named.code} is retired" if named else f"No cone has the code {typed[:40]}"
            messages.error(request, f"{why}. Look at its label again, or add it as a new cone.")
    if wanted:
        chosen = Cone.objects.live().with_names().filter(pk=wanted).first()
        if chosen:
            return chosen
    after = key_in(request.GET.get("after", ""))
    at = next((place for place, line in enumerate(lines) if line.cone.pk == after), -1)
    round_from_here = lines[at + 1 :] + lines[: at + 1]
    return next((line.cone for line in round_from_here if not line.found), None)


# --- Counts that the page sends by itself -------------------------------------------------------------------


class _Unreadable(Exception):
    """What was sent is not what the page sends."""


@HELPERS_ONLY
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def stocktake_counts(request: HttpRequest, pk: int) -> HttpResponse:
    """GET: what was counted since ?seen=. POST: counts as JSON, each answered by its key; then the same."""
    stocktake = get_object_or_404(Stocktake, pk=pk)
    measures = measures_of(request.studio)
    results = []
    seen = key_in(request.GET.get("seen", ""))
    if request.method == "POST":
        try:
            seen, sent = _read_sent(request)
        except _Unreadable as error:
            return JsonResponse({"error": str(error)}, status=REFUSED)
        results = [_take(item, stocktake, request.user, measures) for item in sent]
    counts = with_fibres(Count.objects.filter(stocktake=stocktake, keys__pk__gt=seen).distinct())
    return JsonResponse(
        {
            "results": results,
            "seen": _last_seen(stocktake),
            "token": get_token(request),
            "news": [
                {
                    "cone": kept.cone_id,
                    "code": kept.cone.code,
                    "shade": kept.cone.shade.name,
                    "found": count_words(kept, measures),
                    "again": looks_off(kept, measures),
                }
                for kept in counts
            ],
        }
    )


def _last_seen(stocktake: Stocktake) -> int:
    last = CountKey.objects.filter(count__stocktake=stocktake).order_by("-pk").first()
    return last.pk if last else 0


def _read_sent(request: HttpRequest) -> tuple[int, list[Any]]:
    try:
        sent = json.loads(request.body)
        json.dumps(sent, ensure_ascii=False).encode()
    except RequestDataTooBig as error:
        raise _Unreadable("That is more than a page of counts can be.") from error
    except (ValueError, RecursionError) as error:
        raise _Unreadable("That is no JSON in UTF-8.") from error
    if not isinstance(sent, dict) or not isinstance(sent.get("counts"), list):
        raise _Unreadable("An object with a list named counts was expected.")
    if len(sent["counts"]) > MOST_AT_ONCE:
        raise _Unreadable(f"At most {MOST_AT_ONCE} counts are taken at once.")
    return key_in(sent.get("seen", 0)), sent["counts"]


def _take(item: Any, stocktake: Stocktake, by: Person, measures: Measures) -> dict[str, Any]:
    """One count, kept or refused; the others of the same sending stand by themselves."""
    if not isinstance(item, dict) or not isinstance(item.get("key"), str):
        return {"key": None, "outcome": "refused", "reason": "A count without its key cannot be kept."}
    form = CountForm(_as_typed(item), measures=measures)
    taken = served(form, lambda: _count(form, stocktake, by, _age(item.get("age_ms"))), _NAMES)
    if taken:
        return {"key": item["key"], "outcome": str(taken[0])}
    reasons = [str(error) for errors in form.errors.values() for error in errors]
    return {"key": item["key"], "outcome": "refused", "reason": " ".join(reasons)}


def _as_typed(item: dict[str, Any]) -> QueryDict:
    """What the form would have sent. Anything but text, a whole number or yes and no counts as not said."""
    said = QueryDict(mutable=True)
    for name in ("key", "cone", "code", "scale", "core", "note", "finding"):
        value = item.get(name)
        if isinstance(value, str) or (isinstance(value, int) and not isinstance(value, bool)):
            said[name] = str(value)
    said.update({name: "on" for name in ("yarn_only", "is_estimate") if item.get(name) is True})
    return said


def _age(value: Any) -> timedelta:
    """How long ago it was counted; nonsense is now, and more than a year is a year."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not value > 0:
        return timedelta(0)
    return timedelta(milliseconds=min(value, 366 * 86_400_000))


# --- The end ------------------------------------------------------------------------------------------------


@HELPERS_ONLY
def stocktake_close(request: HttpRequest, pk: int) -> HttpResponse:
    stocktake = get_object_or_404(Stocktake.objects.with_names(), pk=pk)
    measures = measures_of(request.studio)
    form = MeasuredForm(posted(request), measures=measures)
    if request.method == "POST" and served(form, lambda: close(pk=pk, by=request.user)):
        messages.success(request, f"The stocktake of {stocktake.where} is closed.")
        return redirect("stocktake-report", pk)
    if stocktake.closed_at:
        return redirect("stocktake-report", pk)
    context = {"stocktake": stocktake, "report": write_report(stocktake, measures)}
    return page(request, "stash/stocktake_close.html", context, form)


@VIEWERS
def stocktake_report(request: HttpRequest, pk: int) -> HttpResponse:
    stocktake = get_object_or_404(Stocktake.objects.with_names(), pk=pk)
    report = write_report(stocktake, measures_of(request.studio))
    context = {
        "stocktake": stocktake,
        "report": report,
        "worth": report.worth.words(request.studio.currency),
    }
    return page(request, "stash/stocktake_report.html", context)


@VIEWERS
def stocktake_paper(request: HttpRequest, pk: int) -> HttpResponse:
    """The cones to go along with a pencil; the figures are typed in afterwards."""
    stocktake = get_object_or_404(Stocktake.objects.with_names(), pk=pk)
    lines = count_lines(stocktake, measures_of(request.studio))
    return page(request, "stash/stocktake_paper.html", {"stocktake": stocktake, "lines": lines})
