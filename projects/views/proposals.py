"""Who gets which cone, over the whole studio: asking for a proposal, watching it, reading it, accepting it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import HttpResponseClientRefresh

from projects.proposing.accepting import AcceptedAlready, accept, standing
from projects.proposing.proposal import Proposal
from projects.proposing.run_desk import Run, find_run, runs_of, start
from projects.proposing.running import run_beside
from projects.proposing.words import say, several
from stash.access import HELPERS_ONLY
from stash.measuring import measures_of
from stash.services.refusal import Refusal
from stash.views.answers import key_in


@HELPERS_ONLY
@never_cache
def proposals(request: HttpRequest) -> HttpResponse:
    """What it is, and what waits; a post begins one."""
    if request.method == "POST":
        run, is_new = start(by_id=request.user.pk)
        if is_new:
            run_beside(run)
        elif run.owner_id != request.user.pk:
            messages.warning(
                request, "Somebody else has a proposal worked out just now: one at a time. Try again soon."
            )
            return redirect("proposals")
        return redirect("proposal", run.token)
    context = {"section": "projects", "runs": runs_of(request.user.pk)}
    return render(request, "projects/proposals.html", context)


@HELPERS_ONLY
@never_cache
@require_safe
def proposal(request: HttpRequest, token: str) -> HttpResponse:
    """How far it is, while it runs: the page asks again and again, without script by itself every few seconds. Then
    the proposal."""
    run, kept = _find(request, token)
    if run is None:
        return _gone(request)
    context: dict[str, Any] = {"section": "projects", "run": run, "told": run.progress()}
    part = request.htmx and request.htmx.target == "proposal-progress"
    if kept is not None:
        if part:
            return HttpResponseClientRefresh()
        context["said"] = say(kept, measures_of(request.studio), standing(kept))
        return render(request, "projects/proposal.html", context)
    template = "projects/_proposal_progress.html" if part else "projects/proposal_progress.html"
    return render(request, template, context)


@HELPERS_ONLY
@require_POST
def proposal_cancel(request: HttpRequest, token: str) -> HttpResponse:
    run, _ = _find(request, token)
    if run is None:
        return _gone(request)
    if run.state in ("running", "silent"):
        run.cancel()
    return redirect("proposal", token)


@HELPERS_ONLY
@require_POST
def proposal_accept(request: HttpRequest, token: str) -> HttpResponse:
    """Give the ticked projects what is proposed, in one step or not at all."""
    run, kept = _find(request, token)
    if run is None:
        return _gone(request)
    if kept is None:
        return redirect("proposal", token)
    ticked = {key_in(typed) for typed in request.POST.getlist("take")}
    try:
        accepted = accept(proposal=kept, ticked=ticked)
    except AcceptedAlready as error:
        messages.info(request, error.message)
    except Refusal as error:
        messages.error(request, f"{error.message} Nothing was changed.")
    else:
        run.note_accepted(list(accepted.projects))
        said = f"Accepted: {several(accepted.names)} {'has' if len(accepted.names) == 1 else 'have'} what is proposed."
        if accepted.short:
            messages.warning(
                request,
                f"{said} {several(accepted.short)} did not get all: what is missing is noted as a shortage.",
            )
        else:
            messages.success(request, said)
    return redirect("proposal", token)


def _find(request: HttpRequest, token: str) -> tuple[Run | None, Proposal | None]:
    """What waits there for this person, and the proposal once it is made. One that another version of this program
    kept counts as gone."""
    run = find_run(token, by_id=request.user.pk)
    data = run.proposal() if run else None
    if data is None:
        return run, None
    try:
        return run, Proposal.from_data(data)
    except (LookupError, TypeError, ValueError):
        return None, None


def _gone(request: HttpRequest) -> HttpResponseRedirect:
    messages.error(
        request,
        "That proposal waits here no more, or is somebody else’s: they are kept for a day. Work one out anew.",
    )
    return redirect("proposals")
