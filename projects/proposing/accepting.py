"""Accepting a proposal, whole or in part: the projects that are chosen get what is proposed in one step, or nothing is
written. Locked in the order of `stash.services.reserving`; everything is asked anew of the locked rows, in integers.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.db import transaction

from projects.models import Project, ProjectShade
from projects.proposing.coverage import covers
from projects.proposing.gathering import Gathered, Part, Party, gather
from projects.proposing.proposal import Proposal, is_served, of_shade, on_cones
from projects.proposing.shares import allotment_of
from projects.proposing.solving import asked_of, packages_of
from projects.services.reserving import claim_of, freeze
from projects.wording import together
from stash.calc.allot import check_allotment
from stash.models import Cone, Reservation
from stash.services import reserving as shelf
from stash.services.refusal import Refusal

ANEW = "Work the proposal out anew."


class AcceptedAlready(Refusal):
    """All that was chosen holds what is proposed."""


@dataclass(frozen=True, slots=True)
class Accepted:
    projects: tuple[int, ...]
    names: tuple[str, ...]
    short: tuple[str, ...]
    """Names of those among them that are not served: what is missing is noted as their shortage."""


def chosen_of(proposal: Proposal, ticked: Collection[int]) -> list[int]:
    """The projects that are ticked and change, with all that hang together with them."""
    groups = proposal.groups
    return sorted({pk for one in ticked for pk in groups.get(one, ())})


def accept(*, proposal: Proposal, ticked: Collection[int]) -> Accepted:
    """Give the ticked projects, and those that hang together with them, what is proposed.

    Raises AcceptedAlready, or Refusal with a sentence of what changed since the proposal was made; nothing is written
    then.
    """
    chosen = chosen_of(proposal, ticked)
    if not chosen:
        raise Refusal("Tick at least one project whose yarn changes.")
    with transaction.atomic(durable=True):
        locked = _lock_projects(chosen)
        parties = [party for party in proposal.gathered.parties if party.pk in set(chosen)]
        claims = {pk: claim_of(project) for pk, project in locked.items()}
        first, *others = sorted(claims.values()) or [0]
        shades = {wanted.shade_id for party in parties for wanted in party.wanted}
        live = {cone.pk for cone in shelf.lock_holdings(first, shades, also=others)} if claims else set()
        refuse_changed(proposal, chosen, gather(chosen, with_plans=False), live)
        for pk in claims:
            shelf.give_back(claim_id=claims[pk])
        rows = ProjectShade.objects.filter(project__in=chosen).select_related("shade__yarn").order_by("pk")
        row_of = {(row.project_id, row.shade_id): row for row in rows}
        for party in parties:
            shelf.take(
                claim_id=claims[party.pk],
                wanted=[shelf.Wanted(*_columns(part)) for part in proposal.given[party.pk]],
                missing=_missing(proposal, party),
            )
        freeze(row_of.values())
    cones = proposal.gathered.cones
    short = [party.name for party in parties if not is_served(party, proposal.given[party.pk], cones)]
    return Accepted(tuple(chosen), tuple(party.name for party in parties), tuple(short))


def _lock_projects(pks: Sequence[int]) -> dict[int, Project]:
    found = Project.objects.select_for_update(of=("self",), no_key=True).filter(pk__in=pks).order_by("pk")
    return {project.pk: project for project in found}


def _columns(part: Part) -> tuple[int, str, int, int, int]:
    return part.cone_id, part.use, part.ends, part.length_um, part.mass_mg


def _missing(proposal: Proposal, party: Party) -> list[shelf.Missing]:
    """What the project lacks by the proposal, of each shade of which that is anything."""
    found = []
    for wanted in party.wanted:
        parts = of_shade(proposal.given[party.pk], wanted.shade_id, proposal.gathered.cones)
        lacks = covers(wanted, parts, proposal.gathered.cones)
        if lacks.short_um:
            found.append(
                shelf.Missing(wanted.shade_id, lacks.short_ends, lacks.short_um, lacks.short_mass_mg)
            )
    return found


def refuse_changed(
    proposal: Proposal, chosen: Collection[int], now: Gathered, live: Collection[int] | None = None
) -> None:
    """Raises AcceptedAlready, or Refusal saying what changed so that the proposal no longer fits for these projects.

    `now` is gathered with the chosen ones as the only ones that may move; of the cones only the `live` ones count,
    those that are locked.
    """
    before = {party.pk: party for party in proposal.gathered.parties if party.pk in set(chosen)}
    parties = {party.pk: party for party in now.parties}
    if all(pk in parties and parties[pk].held == proposal.given[pk] for pk in before):
        raise AcceptedAlready("This was accepted already: the projects hold what is proposed.")
    for pk, party in before.items():
        _refuse_another(party, parties.get(pk), now)
    wanted: dict[int, int] = {}
    for pk in before:
        for cone_id, mg in on_cones(proposal.given[pk]).items():
            wanted[cone_id] = wanted.get(cone_id, 0) + mg
    for cone_id, mg in sorted(wanted.items()):
        _refuse_cone(proposal, cone_id, mg, now, live)
    faults = check_allotment(
        asked_of(now), packages_of(now), allotment_of(now, proposal.given, proposal.short)
    )
    if faults:
        cone = now.cones.get(faults[0].cone_id or 0)
        which = f" of cone {cone.code}" if cone else ""
        raise Refusal(f"What is proposed{which} no longer fits: {_lower(faults[0].words)} {ANEW}")


def standing(proposal: Proposal) -> dict[int, Refusal | None]:
    """Of each project that changes: None if it can be accepted as things are now, else why not. A fixed number of
    queries, and two for each cone that stands in the way."""
    now = gather(with_plans=False)
    found: dict[int, Refusal | None] = {}
    for group in set(proposal.groups.values()):
        refusal: Refusal | None = None
        try:
            refuse_changed(proposal, group, now.moving_only(group))
        except Refusal as error:
            refusal = error
        found |= dict.fromkeys(group, refusal)
    return found


def _refuse_another(before: Party, now: Party | None, gathered: Gathered) -> None:
    """Raises Refusal where a project is no more what it was when the proposal was made."""
    if now is None:
        staying = next((one for one in gathered.staying if one.pk == before.pk), None)
        if staying:
            raise Refusal(f"The yarn of {before.name} does not move any more: {_lower(staying.why)}. {ANEW}")
        raise Refusal(f"{before.name} is not among the open projects any more. {ANEW}")
    if now.version != before.version:
        raise Refusal(f"The plan of {before.name} was changed since the proposal was made. {ANEW}")
    if [(one.shade_id, one.demand) for one in now.wanted] != [
        (one.shade_id, one.demand) for one in before.wanted
    ]:
        raise Refusal(
            f"What {before.name} needs, or the length per weight it reckons with, changed since the proposal was made. "
            f"{ANEW}"
        )
    if now.held != before.held:
        raise Refusal(f"The reservation of {before.name} was changed since the proposal was made. {ANEW}")


def _refuse_cone(
    proposal: Proposal, cone_id: int, mg: int, now: Gathered, live: Collection[int] | None
) -> None:
    """Raises Refusal where a cone no longer gives what is proposed of it."""
    was, cone = proposal.gathered.cones[cone_id], now.cones.get(cone_id)
    name = f"Cone {was.code} ({proposal.gathered.shades[was.shade_id].name})"
    if cone is None or not cone.usable or (live is not None and cone_id not in live):
        condition = Cone.objects.filter(pk=cone_id, retired_at=None).first()
        why = (
            f"it is {condition.condition_words}" if condition and condition.condition_words else "it is gone"
        )
        raise Refusal(f"{name} cannot be given any more: {why}. {ANEW}")
    if (cone.shade_id, cone.lot_id) != (was.shade_id, was.lot_id):
        raise Refusal(f"{name} was said to be of another lot since the proposal was made. {ANEW}")
    if mg > cone.open_mg:
        lacks = "weighs less" if cone.on_hand_mg < was.on_hand_mg else "has less free"
        by = _who_else(cone_id, proposal) if cone.kept_mg > was.kept_mg else ""
        raise Refusal(
            f"{name} {lacks} than when the proposal was made: {mg // 1000:,} g of it are proposed, "
            f"{cone.open_mg // 1000:,} g can be had{by}. {ANEW}"
        )


def _who_else(cone_id: int, proposal: Proposal) -> str:
    """, and others hold some of it: Runner; said only of those that did not when the proposal was made."""
    held = {party.claim_id for party in proposal.gathered.parties if cone_id in on_cones(party.held)}
    names = (
        Reservation.objects.filter(cone=cone_id)
        .exclude(claim__in=held - {None})
        .order_by("pk")
        .values_list("claim__name", flat=True)
    )
    new = list(dict.fromkeys(names))
    return f"; {together(new)} {'holds' if len(new) == 1 else 'hold'} some of it" if new else ""


def _lower(words: str) -> str:
    return words[:1].lower() + words[1:]
