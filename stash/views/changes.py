"""Small pages of a cone, each for one change: it says what it will do, and does it when sent."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from stash.access import HELPERS_ONLY, OWNERS
from stash.forms import offers
from stash.forms.changes import ConditionForm, JoinForm, OddmentForm, OverForm, SplitForm, WriteOffForm
from stash.forms.fields import MeasuredForm
from stash.measuring import measures_of
from stash.models import Condition, Cone, Entry
from stash.services import changing
from stash.services.refusal import Refusal
from stash.services.undoing import take_back
from stash.tables.last_of import last_of
from stash.views.answers import key_in, page, posted, served, tell_undercut

SPOILED = ("moth", "soiled", "given away", "sold", "sampled")


@dataclass(frozen=True, slots=True)
class Words:
    """What such a page says: its heading, what it will do, its button."""

    heading: str
    does: list[str]
    button: str
    danger: bool = False
    reasons: tuple[str, ...] = ()
    places: list[str] = field(default_factory=list)
    # Does it take yarn that a project might want? Of a shade that is no more made the page then says who does.
    takes: bool = False
    # Why nothing can be done here; the form is left out.
    barred: str = ""


def _answer(
    request: HttpRequest, cone: Cone, form: MeasuredForm, words: Words, write: Callable[[], str]
) -> HttpResponse:
    """The page, or what came of it; `write` does it and says so."""
    if request.method == "POST" and (said := served(form, write, {"core_mg": "core"})):
        messages.success(request, said)
        cone.refresh_from_db()
        tell_undercut(request, cone, form.measures)
        return redirect("cone-page", cone.pk)
    context = {"cone": cone, "words": words}
    if words.takes and cone.shade.no_more_on and not words.barred:
        context["last_of"] = last_of(cone.shade, form.measures)
    return page(request, "stash/cone_change.html", context, form)


def _cone(pk: int) -> Cone:
    return get_object_or_404(Cone.objects.with_names(), pk=pk)


def _targets(request: HttpRequest, cone: Cone) -> list[tuple[str, str]]:
    """The other cones on the shelf of the same shade and lot."""
    if cone.lot_id is None or cone.retired_at:
        return []
    measures = measures_of(request.studio)
    others = Cone.objects.live().filter(shade=cone.shade_id, lot=cone.lot_id).exclude(pk=cone.pk)
    return [
        (str(one.pk), f"{one.code}, {measures.mass(one.on_hand_mg)}{f', {one.place}' if one.place else ''}")
        for one in others.select_related("place")
    ]


def _no_partner(cone: Cone, targets: list[tuple[str, str]]) -> str:
    if cone.retired_at:
        return _retired(cone)
    if cone.lot_id is None:
        return "The dye lot of this cone is not known, so it matches no other. Note the lot first."
    return "" if targets else "No other cone of this shade and lot is on the shelf."


def _retired(cone: Cone) -> str:
    return f"Cone {cone.code} is retired. Bring it back first." if cone.retired_at else ""


@HELPERS_ONLY
def cone_wind_over(request: HttpRequest, pk: int) -> HttpResponse:
    cone, measures = _cone(pk), measures_of(request.studio)
    targets = _targets(request, cone)
    form = OverForm(posted(request), targets=targets, measures=measures)
    words = Words(
        heading="Wind over to another cone",
        does=[
            f"takes the yarn from {cone.code} and gives it to a cone of the same shade and lot, by an entry on each;",
            f"takes no more than is free: {measures.mass(cone.free_mg, 'down')}.",
        ],
        button="It is wound over",
        barred=_no_partner(cone, targets),
    )

    def write() -> str:
        said = form.cleaned_data
        taken, given = changing.wind_over(
            source_id=pk,
            target_id=int(said["target"]),
            amount=said["amount"],
            by=request.user,
            is_estimate=said["about"],
            reason=said["reason"],
        )
        return (
            f"{measures.mass(given.change_mg)} went from {cone.code} to {given.cone.code}, "
            f"which holds {measures.mass(given.after_mg)} now; {measures.mass(taken.after_mg)} are left here."
        )

    return _answer(request, cone, form, words, write)


@HELPERS_ONLY
def cone_split(request: HttpRequest, pk: int) -> HttpResponse:
    cone, measures = _cone(pk), measures_of(request.studio)
    form = SplitForm(posted(request), measures=measures)
    words = Words(
        heading="Wind on to a new spool or cone",
        does=[
            "makes a new package of the same shade, lot and condition, with a code of its own;",
            f"takes the yarn from {cone.code}, no more than is free: {measures.mass(cone.free_mg, 'down')}.",
        ],
        button="It is wound",
        places=offers.place_names(),
        barred=_retired(cone),
    )

    def write() -> str:
        said = form.cleaned_data
        new = changing.split(
            source_id=pk,
            amount=said["amount"],
            by=request.user,
            form=said["form"],
            core_mg=said["core"],
            place=said["place"],
            code=said["code"],
            is_estimate=said["about"],
            reason=said["reason"],
        )
        return f"{new.get_form_display().capitalize()} {new.code} holds {measures.mass(new.on_hand_mg)} from {cone.code}."

    return _answer(request, cone, form, words, write)


@HELPERS_ONLY
def cone_join(request: HttpRequest, pk: int) -> HttpResponse:
    cone, measures = _cone(pk), measures_of(request.studio)
    targets = _targets(request, cone)
    form = JoinForm(posted(request), targets=targets, measures=measures)
    words = Words(
        heading="Join this remnant to another cone",
        does=[
            f"gives all of it, {measures.mass(cone.on_hand_mg)}, to a cone of the same shade and lot;",
            f"retires {cone.code}, which is empty then. Taking the joining back brings it to the shelf again.",
        ],
        button="They are joined",
        barred=_no_partner(cone, targets),
    )

    def write() -> str:
        target = changing.join(source_id=pk, target_id=int(form.cleaned_data["target"]), by=request.user)
        return f"{cone.code} is joined to {target.code}, which holds {measures.mass(target.on_hand_mg)} now."

    return _answer(request, cone, form, words, write)


@HELPERS_ONLY
def cone_condition(request: HttpRequest, pk: int) -> HttpResponse:
    cone, measures = _cone(pk), measures_of(request.studio)
    initial = {"condition": cone.condition, "on": cone.condition_on}
    form = ConditionForm(posted(request), initial=initial, measures=measures)
    words = Words(
        heading="What it is fit for",
        does=[
            "notes it with its day, and by whom, in the ledger; no weight changes;",
            "offers the cone to no project while it is weak or in quarantine. Faded yarn is offered as before.",
        ],
        button="So it is",
        reasons=("moth", "moth suspected", "breaks when pulled", "sun", "damp"),
        barred=_retired(cone),
    )

    def write() -> str:
        said = form.cleaned_data
        return _conditioned(request, cone, said["condition"], said["on"], said["reason"])

    return _answer(request, cone, form, words, write)


@HELPERS_ONLY
def cone_oddment(request: HttpRequest, pk: int) -> HttpResponse:
    cone, measures = _cone(pk), measures_of(request.studio)
    form = OddmentForm(posted(request), initial={"on": timezone.localdate()}, measures=measures)
    words = Words(
        heading="Put it with the oddments",
        does=[
            "leaves its yarn in the books, with the day and your name in the ledger;",
            "offers it to no project any more. “Condition” on its page makes it sound again.",
        ],
        button="It is an oddment",
        takes=True,
        barred=_retired(cone),
    )

    def write() -> str:
        said = form.cleaned_data
        return _conditioned(request, cone, Condition.ODDMENT, said["on"], said["reason"])

    return _answer(request, cone, form, words, write)


def _conditioned(request: HttpRequest, cone: Cone, condition: str, on: Any, reason: str) -> str:
    """Note it, and warn of those who count on a cone that nobody is offered any more."""
    changed = changing.set_condition(pk=cone.pk, condition=condition, on=on, by=request.user, reason=reason)
    if not Cone.objects.usable().filter(pk=cone.pk).exists():
        holders = ", ".join(sorted({line.claim.name for line in cone.reservations.by_need()}))
        if holders:
            messages.warning(
                request,
                f"Yarn on {cone.code} is reserved for {holders}. Reserve again there: the yarn is taken elsewhere.",
            )
    return f"Cone {cone.code}: {changed.get_condition_display()}."


@OWNERS
def cone_write_off(request: HttpRequest, pk: int) -> HttpResponse:
    cone, measures = _cone(pk), measures_of(request.studio)
    form = WriteOffForm(posted(request), measures=measures)
    words = Words(
        heading="Write off a part",
        does=[
            "takes so much off the books, by an entry with your reason; the cone stays on the shelf;",
            f"takes no more than is free: {measures.mass(cone.free_mg, 'down')}. For all of it, retire the cone.",
        ],
        button="Write it off",
        danger=True,
        takes=True,
        reasons=SPOILED,
        barred=_retired(cone),
    )

    def write() -> str:
        said = form.cleaned_data
        entry = changing.write_off(
            pk=pk, amount=said["amount"], reason=said["reason"], by=request.user, is_estimate=said["about"]
        )
        return f"{measures.mass(-entry.change_mg)} of {cone.code} are written off; it holds {measures.mass(entry.after_mg)}."

    return _answer(request, cone, form, words, write)


@HELPERS_ONLY
@require_POST
def cone_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take back the entry that the page showed as the latest; not another that came since."""
    cone = get_object_or_404(Cone, pk=pk)
    entry = Entry.objects.filter(pk=key_in(request.POST.get("entry", "")), cone=cone).first()
    try:
        if entry is None:
            raise Refusal("Choose an entry of this cone to take back.")
        back = take_back(entry_id=entry.pk, by=request.user)
    except Refusal as error:
        messages.error(request, error.message)
    else:
        measures = measures_of(request.studio)
        messages.success(
            request, f"Taken back by a further entry: {cone.code} holds {measures.mass(back.after_mg)} again."
        )
        cone.refresh_from_db()
        tell_undercut(request, cone, measures)
    return redirect("cone-page", pk)
