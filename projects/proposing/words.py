"""A proposal in words and figures, as its page shows it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils.formats import date_format

from projects.proposing.accepting import AcceptedAlready
from projects.proposing.coverage import Coverage, covers
from projects.proposing.gathering import Part, Party, ShelfShade, Wanted
from projects.proposing.proposal import Proof, Proposal, Short, in_turn, of_shade
from projects.proposing.reasons import Reasons
from projects.wish_words import wished_words
from projects.wording import counted, together
from stash.calc.allot.allotting import NOTHING_NEW
from stash.calc.verdict import Verdict
from stash.calc.writing import Measures
from stash.services.refusal import Refusal


@dataclass(frozen=True, slots=True)
class SaidCone:
    """One cone of one shade: what is put aside of it now, and what is proposed; "" for nothing."""

    pk: int
    code: str
    lot: str
    place: str
    now: str
    now_mass: str
    proposed: str
    proposed_mass: str

    @property
    def stays(self) -> bool:
        return (self.now, self.now_mass) == (self.proposed, self.proposed_mass)


@dataclass(frozen=True, slots=True)
class SaidShade:
    shade: ShelfShade
    changes: bool
    reasons: Sequence[str]
    short: str
    """What is missing of it by the proposal; "" for nothing."""
    cones: Sequence[SaidCone]


@dataclass(frozen=True, slots=True)
class SaidProject:
    pk: int
    name: str
    when: str
    state: str
    """short, tight or enough: by the proposal."""
    comes_to: str
    now_state: str
    as_it_stands: str
    changes: str
    """What changes in a phrase; "" for nothing."""
    shades: Sequence[SaidShade]
    together_with: str
    """Names of those that it is taken together with."""
    ticks: bool
    """It bears the tick of its group."""
    is_new: bool
    """Nothing is put aside for it now."""
    accepted: bool
    stands_against: str
    """Why it cannot be accepted any more; "" if it can."""

    @property
    def changing(self) -> list[SaidShade]:
        return [one for one in self.shades if one.changes]

    @property
    def unchanged(self) -> list[SaidShade]:
        return [one for one in self.shades if not one.changes]


@dataclass(frozen=True, slots=True)
class Said:
    state: str
    lead: str
    rest: str
    paragraphs: Sequence[str]
    projects: Sequence[SaidProject]
    staying: Sequence[tuple[int, str, str]]

    @property
    def changing(self) -> list[SaidProject]:
        return [one for one in self.projects if one.changes]

    @property
    def unchanged(self) -> list[SaidProject]:
        return [one for one in self.projects if not one.changes]

    @property
    def to_accept(self) -> list[SaidProject]:
        return [one for one in self.projects if one.ticks]


def say(proposal: Proposal, measures: Measures, standing: Mapping[int, Refusal | None]) -> Said:
    """`standing` says of each project that changes whether that can still be accepted."""
    teller = _Teller(proposal, measures, standing)
    projects = [teller.project(party) for party in proposal.gathered.parties]
    state, lead, rest = teller.verdict(projects)
    return Said(
        state,
        lead,
        rest,
        [proof_sentence(proposal.proof)] if proposal.gathered.parties else [],
        projects,
        [(one.pk, one.name, one.why) for one in proposal.gathered.staying],
    )


def proof_sentence(proof: Proof) -> str:
    """How sure it is that nothing better can be had."""
    if proof.fallback == NOTHING_NEW:
        return proof.fallback
    if proof.fallback or (proof.packed and not proof.stopped):
        return (
            f"{proof.fallback} What is contested was shared out by our own packing, one project after the other: it fits "
            "the shelf, but a better way may exist."
        ).strip()
    if not proof.served_proven:
        return (
            "The time given was over before it was settled who can be served: this fits the shelf, but more may be "
            "possible. Work it out anew when the studio is quiet."
        )
    served = "It is proven that in this order no more projects can be served"
    if not proof.lots_proven:
        return f"{served}; that they need no fewer lots was not settled in the time given."
    if not proof.contested:
        return (
            "No cone is contested among those that can be served: each is given what it would take by itself, and "
            "nothing can be better than that."
        )
    if proof.packed:
        return f"{served}, nor from fewer lots. How much less could be left over was not settled in the time given."
    if not proof.gap_ppm:
        return f"{served}, nor the same from fewer lots, nor with less left over on stubs."
    gap = _tenths(Fraction(proof.gap_ppm, 10_000))
    return f"{served}, nor the same from fewer lots. Of what is left over on stubs at most {gap} % might yet be saved."


def several(names: Iterable[str], most: int = 4) -> str:
    """A, B and C; of more than can be read at a glance the first, and how many others."""
    listed = list(names)
    if len(listed) <= most:
        return together(listed)
    return f"{', '.join(listed[: most - 1])} and {len(listed) - most + 1} others"


def _whole(figure: str) -> str:
    """A figure that is not parted from its unit at the end of a line."""
    return figure.replace(" ", "\u00a0")


def _tenths(value: Fraction) -> str:
    """Rounded up, so that nothing is promised."""
    tenths = -(-value * 10 // 1)
    return f"{tenths // 10}.{tenths % 10}"


class _Teller:
    def __init__(
        self, proposal: Proposal, measures: Measures, standing: Mapping[int, Refusal | None]
    ) -> None:
        self.proposal, self.measures, self.standing = proposal, measures, standing
        self.reasons = Reasons(proposal)
        self.cones = proposal.gathered.cones
        self.names = {party.pk: party.name for party in proposal.gathered.parties}
        self.alone = in_turn(proposal.gathered)

    # --- The whole ---------------------------------------------------------------------------------------
    def verdict(self, projects: Sequence[SaidProject]) -> tuple[str, str, str]:
        if not projects:
            return "warn", "No project waits for yarn.", "What is begun keeps what it has."
        served = [one for one in projects if one.state != "short"]
        gained = [one for one in served if one.now_state == "short"]
        lost = [one for one in projects if one.state == "short" and one.now_state != "short"]
        lead = self._lead(len(served), len(projects), len(gained))
        rest = []
        if gained:
            rest.append(
                f"As things stand, with each reserving in its turn, {several(one.name for one in gained)} would be short."
            )
            rest += self._given_up(gained)
        if lost:
            rest.append(
                f"{several(one.name for one in lost)} {'gives' if len(lost) == 1 else 'give'} way to those that go before."
            )
        if not any(one.changes for one in projects):
            rest.append("Each holds already what is proposed: nothing changes.")
        state = "ok" if len(served) == len(projects) else "warn"
        return state, lead, " ".join(rest)

    @staticmethod
    def _lead(served: int, wanting: int, gained: int) -> str:
        if wanting == 1:
            return (
                "The one project that waits can be served."
                if served
                else "The one project that waits is short."
            )
        if served == wanting:
            head = (
                "Both projects can be served" if wanting == 2 else f"All {wanting:,} projects can be served"
            )
        else:
            head = (
                f"{served:,} of {wanting:,} projects can be served" if served else "No project can be served"
            )
        return f"{head}; {gained:,} of them only as is proposed." if gained else f"{head}."

    def _given_up(self, gained: Sequence[SaidProject]) -> list[str]:
        """Whose yarn moves for those that are served by the proposal alone."""
        gaining = {one.pk for one in gained}
        givers = [
            party.name
            for party in self.proposal.gathered.parties
            if party.pk not in gaining
            and party.held
            and gaining & set(self.proposal.groups.get(party.pk, ()))
        ]
        return (
            [f"For that, yarn that {several(givers)} {'holds' if len(givers) == 1 else 'hold'} moves."]
            if givers
            else []
        )

    # --- A project ---------------------------------------------------------------------------------------
    def project(self, party: Party) -> SaidProject:
        group = self.proposal.groups.get(party.pk, ())
        # What does not change is folded away, without its cones.
        shades = [self.shade(party, wanted) for wanted in party.wanted] if group else []
        shades += self.let_go(party)
        refusal = self.standing.get(party.pk)
        accepted = isinstance(refusal, AcceptedAlready)
        state, comes_to = self.by_proposal(party)
        now_state, as_it_stands = self.comes_to(party, self.alone[party.pk])
        return SaidProject(
            pk=party.pk,
            name=party.name,
            when=self.when(party),
            state=state,
            comes_to=comes_to,
            now_state=now_state,
            as_it_stands=as_it_stands,
            changes=self.changes(party, shades) if group else "",
            shades=shades,
            together_with=several(self.names[pk] for pk in group if pk != party.pk),
            ticks=bool(group) and group[0] == party.pk and refusal is None,
            is_new=not party.held,
            accepted=accepted,
            stands_against=refusal.message if refusal and not accepted else "",
        )

    @staticmethod
    def when(party: Party) -> str:
        day = date_format(party.need_on, "j M Y") if party.need_on else "no winding day"
        return f"{day}, rank {party.rank}"

    def by_proposal(self, party: Party) -> tuple[str, str]:
        """A project that is not served says by which shades it fails."""
        short = self.proposal.short.get(party.pk)
        if not short:
            return self.comes_to(party, self.proposal.given[party.pk])
        return "short", f"Not served: {'; '.join(self.why_short(one) for one in short)}"

    def why_short(self, one: Short) -> str:
        """the shelf has too little Juniper; Ink goes to Courtyard runner, which goes before."""
        name = self.proposal.gathered.shades[one.shade_id].name
        before = [self.names[pk] for pk in one.before if pk in self.names]
        if one.cause == "before" and before:
            return f"{name} goes to {several(before)} first"
        if one.cause == "time":
            return f"whether {name} suffices was not settled in the time given"
        return f"the shelf has too little {name}, or not as it is wished for"

    def comes_to(self, party: Party, parts: Sequence[Part]) -> tuple[str, str]:
        """The worst shade decides, as in every verdict."""
        verdicts = [
            (wanted, covers(wanted, of_shade(parts, wanted.shade_id, self.cones), self.cones))
            for wanted in party.wanted
        ]
        worst = min((found.state for _, found in verdicts), default=Verdict.ENOUGH)
        named = [self.shade_name(wanted) for wanted, found in verdicts if found.state == worst]
        if worst == Verdict.SHORT:
            short = together(
                self.short_by(wanted, found) for wanted, found in verdicts if found.state == worst
            )
            return "short", f"Short of {short}"
        mixed = [self.shade_name(wanted) for wanted, found in verdicts if found.lots_mixed]
        lots = f"; lots mixed in {together(mixed)}" if mixed else ""
        if worst == Verdict.TIGHT:
            return "tight", f"Served, {together(named)} without the whole buffer{lots}"
        return ("tight" if mixed else "enough"), f"Served, with the buffer{lots}"

    def shade_name(self, wanted: Wanted) -> str:
        return self.proposal.gathered.shades[wanted.shade_id].name

    def short_by(self, wanted: Wanted, found: Coverage) -> str:
        """Spruce in lot 7 by 24 warp ends (62 g)."""
        name, mass = (
            self.wished_name(wanted),
            _whole(self.measures.mass(found.short_mass_mg, "up")),
        )
        if found.short_ends:
            return f"{name} by {counted(found.short_ends, 'warp end')} ({mass})"
        return f"{name} by {self.measures.long_length(found.short_um, 'up')} ({mass})"

    def wished_name(self, wanted: Wanted) -> str:
        """Spruce in lot 7, where the plan asks for that lot."""
        need = wanted.demand.need
        lots = [cone.lot for cone in self.cones.values() if cone.lot_id and cone.lot_id == need.wish_lot_id]
        cone = self.cones.get(need.wish_cone_id or 0)
        words = wished_words(need.wish, lots[0] if lots else "?", cone.code if cone else "?")
        return f"{self.shade_name(wanted)} {words}".strip()

    def changes(self, party: Party, shades: Sequence[SaidShade]) -> str:
        """gets its yarn; other cones of Spruce and Rust."""
        changing = [one for one in shades if one.changes]
        if not party.held:
            return "gets what it needs" if self.proposal.given[party.pk] else ""
        if not self.proposal.given[party.pk]:
            return "gives back all that it holds"
        if len(changing) > 3:
            return f"other yarn of {len(changing)} shades"
        return f"other yarn of {together(one.shade.name for one in changing)}"

    # --- A shade -----------------------------------------------------------------------------------------
    def shade(self, party: Party, wanted: Wanted) -> SaidShade:
        before = of_shade(party.held, wanted.shade_id, self.cones)
        after = of_shade(self.proposal.given[party.pk], wanted.shade_id, self.cones)
        found = covers(wanted, after, self.cones)
        return SaidShade(
            self.proposal.gathered.shades[wanted.shade_id],
            before != after,
            self.reasons.of(party, wanted),
            self.short_by(wanted, found) if found.state == Verdict.SHORT else "",
            self.cones_of(before, after),
        )

    def let_go(self, party: Party) -> list[SaidShade]:
        """Shades that it holds though its plan wants them no more."""
        wanted = {one.shade_id for one in party.wanted}
        others = {self.cones[part.cone_id].shade_id for part in party.held} - wanted
        return [
            SaidShade(
                self.proposal.gathered.shades[shade_id],
                True,
                ["Its plan needs none of it any more."],
                "",
                self.cones_of(of_shade(party.held, shade_id, self.cones), ()),
            )
            for shade_id in sorted(others)
        ]

    def cones_of(self, before: Sequence[Part], after: Sequence[Part]) -> list[SaidCone]:
        found = []
        for cone_id in dict.fromkeys(part.cone_id for part in (*after, *before)):
            cone = self.cones[cone_id]
            now = [part for part in before if part.cone_id == cone_id]
            then = [part for part in after if part.cone_id == cone_id]
            found.append(
                SaidCone(cone.id, cone.code, cone.lot, cone.place, *self.amount(now), *self.amount(then))
            )
        return found

    def amount(self, parts: Sequence[Part]) -> tuple[str, str]:
        """60 warp ends, 240 yd, and 120 yd of weft; and the mass of it all."""
        words = [
            f"{counted(part.ends, 'warp end')}, {self.measures.long_length(part.length_um)}"
            if part.use == "warp"
            else f"{self.measures.long_length(part.length_um)} of weft"
            for part in parts
        ]
        mass = sum(part.mass_mg for part in parts)
        return " and ".join(words), _whole(self.measures.mass(mass)) if parts else ""
