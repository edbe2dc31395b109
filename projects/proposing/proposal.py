"""A proposal as it is kept and shown: what it started from, who gets what, how sure that is, and what hangs together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from projects.proposing.coverage import covers
from projects.proposing.gathering import Gathered, Part, Party, ShelfCone, ShelfShade, Staying, Wanted
from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need
from stash.calc.verdict import Verdict
from stash.calc.ways.moving import Demand


@dataclass(frozen=True, slots=True)
class Proof:
    """How good a proposal is, as it is said on its page."""

    fallback: str
    """Why it was worked out by our own packing instead, one project after the other; "" where it was not."""
    stopped: bool
    """The time given was over before all was settled."""
    packed: int
    """Shades that were shared out by our own packing, one project after the other, and not by solving."""
    served_proven: bool
    """No other way serves those that go before and one more."""
    lots_proven: bool
    """No other way serves the same ones from fewer lots."""
    gap_ppm: int
    """How much of what is left on stubs might still be saved, in millionths."""
    contested: int
    """Shades for which it does not suffice that everybody takes what suits him alone."""
    seconds: float


@dataclass(frozen=True, slots=True)
class Short:
    """A shade for which a project is not served. `cause` is that of `stash.calc.allot.Lacking`; `before` those that go
    before it and take of the shade."""

    shade_id: int
    cause: str
    before: tuple[int, ...] = ()


@dataclass(frozen=True)
class Proposal:
    gathered: Gathered
    given: Mapping[int, tuple[Part, ...]]
    """What each project is to hold, by its key."""
    proof: Proof
    short: Mapping[int, tuple[Short, ...]] = field(default_factory=dict)
    """Of each project that is not served the shades that it lacks."""

    def changes(self, party: Party) -> bool:
        return party.held != self.given[party.pk]

    @cached_property
    def groups(self) -> dict[int, tuple[int, ...]]:
        """Of each project that changes, those with which it is taken together or not at all, itself among them.

        Of a cone of which more is to be taken than nobody holds now, all who change something hang together. Any choice
        of whole groups fits the shelf: on each cone either nobody needs another's yarn, or all who do are in one group.
        What is kept back for knots must be free on a cone too.
        """
        free = self.free_now()
        at_cone: dict[int, dict[int, int]] = defaultdict(dict)
        knots: dict[int, int] = defaultdict(int)
        changing = [party for party in self.gathered.parties if self.changes(party)]
        for party in changing:
            before, after = on_cones(party.held), on_cones(self.given[party.pk])
            for cone_id in before.keys() | after.keys():
                if change := after.get(cone_id, 0) - before.get(cone_id, 0):
                    at_cone[cone_id][party.pk] = change
            for cone_id, mg in self._knots(party).items():
                at_cone[cone_id].setdefault(party.pk, 0)
                knots[cone_id] = max(knots[cone_id], mg)
        first = {party.pk: party.pk for party in changing}

        def root(pk: int) -> int:
            while first[pk] != pk:
                pk = first[pk]
            return pk

        for cone_id, moved in at_cone.items():
            if sum(mg for mg in moved.values() if mg > 0) + knots[cone_id] > free.get(cone_id, 0):
                one, *others = moved
                for other in others:
                    first[root(other)] = root(one)
        together: dict[int, list[int]] = defaultdict(list)
        for party in changing:
            together[root(party.pk)].append(party.pk)
        return {pk: tuple(together[root(pk)]) for pk in first}

    def _knots(self, party: Party) -> dict[int, int]:
        """mg by cone that must be free beside what it is given: whole warp lengths that are kept back."""
        found: dict[int, int] = {}
        on = on_cones(self.given[party.pk])
        for wanted in party.wanted:
            demand = wanted.demand
            for part in of_shade(self.given[party.pk], wanted.shade_id, self.gathered.cones):
                if part.ends and demand.keep_back:
                    length_um = (part.ends + demand.keep_back) * demand.warp_um
                    mg = -(-length_um * demand.grist.mass_mg // demand.grist.length_um)
                    found[part.cone_id] = max(0, mg - on[part.cone_id])
        return found

    def free_now(self) -> dict[int, int]:
        """mg by cone that nobody holds when the proposal is made."""
        free = {cone.id: cone.open_mg for cone in self.gathered.cones.values()}
        for party in self.gathered.parties:
            for cone_id, mg in on_cones(party.held).items():
                free[cone_id] -= mg
        return {cone_id: max(0, mg) for cone_id, mg in free.items()}

    # --- Kept as JSON ------------------------------------------------------------------------------------
    def as_data(self) -> dict[str, Any]:
        gathered = self.gathered
        return {
            "parties": [
                {
                    "facts": [party.pk, party.name, _day(party.need_on), party.rank, party.version],
                    "claim": party.claim_id,
                    "wanted": [_wanted_data(one) for one in party.wanted],
                    "held": [_row(part) for part in party.held],
                    "given": [_row(part) for part in self.given[party.pk]],
                    "short": [
                        [one.shade_id, one.cause, list(one.before)] for one in self.short.get(party.pk, ())
                    ],
                }
                for party in gathered.parties
            ],
            "staying": [list(asdict(one).values()) for one in gathered.staying],
            "shades": [list(asdict(one).values()) for one in gathered.shades.values()],
            "cones": [list(asdict(one).values()) for one in gathered.cones.values()],
            "proof": asdict(self.proof),
        }

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Proposal:
        """Raises LookupError, TypeError or ValueError for what another version of this program kept."""
        parties = []
        for one in data["parties"]:
            pk, name, day, rank, version = one["facts"]
            parties.append(
                Party(
                    pk,
                    name,
                    date.fromisoformat(day) if day else None,
                    rank,
                    version,
                    one["claim"],
                    tuple(_wanted_of(wanted) for wanted in one["wanted"]),
                    tuple(Part(*part) for part in one["held"]),
                )
            )
        gathered = Gathered(
            tuple(parties),
            tuple(Staying(*one) for one in data["staying"]),
            {one[0]: ShelfShade(*one) for one in data["shades"]},
            {one[0]: ShelfCone(*one) for one in data["cones"]},
        )
        given = {one["facts"][0]: tuple(Part(*part) for part in one["given"]) for one in data["parties"]}
        short = {
            one["facts"][0]: tuple(
                Short(shade_id, cause, tuple(before)) for shade_id, cause, before in one["short"]
            )
            for one in data["parties"]
            if one["short"]
        }
        return cls(gathered, given, Proof(**data["proof"]), short)


def on_cones(parts: Iterable[Part]) -> dict[int, int]:
    """mg by cone, warp and weft together."""
    found: dict[int, int] = defaultdict(int)
    for part in parts:
        found[part.cone_id] += part.mass_mg
    return dict(found)


def of_shade(parts: Iterable[Part], shade_id: int, cones: Mapping[int, ShelfCone]) -> tuple[Part, ...]:
    return tuple(part for part in parts if cones[part.cone_id].shade_id == shade_id)


def is_served(party: Party, parts: Iterable[Part], cones: Mapping[int, ShelfCone]) -> bool:
    """All its shades at once, without the buffer: the words by which a project counts as served."""
    parts = tuple(parts)
    return all(
        covers(wanted, of_shade(parts, wanted.shade_id, cones), cones).state != Verdict.SHORT
        for wanted in party.wanted
    )


def in_turn(gathered: Gathered) -> dict[int, tuple[Part, ...]]:
    """What each would hold if nobody gave anything up: those that hold what they need keep it, the others reserve, who
    needs yarn first goes first."""
    free = {cone.id: cone.open_mg for cone in gathered.cones.values()}
    for party in gathered.parties:
        for cone_id, mg in on_cones(party.held).items():
            free[cone_id] -= mg
    found: dict[int, tuple[Part, ...]] = {}
    for party in gathered.parties:
        parts: list[Part] = []
        for wanted in party.wanted:
            held = of_shade(party.held, wanted.shade_id, gathered.cones)
            if covers(wanted, held, gathered.cones).state == Verdict.SHORT:
                own = on_cones(held)
                stock = [
                    ConeStock(cone.id, cone.lot_id, max(0, free[cone.id] + own.get(cone.id, 0)))
                    for cone in gathered.cones_of(wanted.shade_id)
                    if cone.usable
                ]
                lines = wanted.demand.proposed(stock).lines
                for cone_id, mg in own.items():
                    free[cone_id] += mg
                held = tuple(
                    Part(line.cone_id, line.use, line.ends, line.length_um, line.mass_mg) for line in lines
                )
                for cone_id, mg in on_cones(held).items():
                    free[cone_id] -= mg
            parts += held
        found[party.pk] = tuple(sorted(parts))
    return found


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""


def _row(part: Part) -> list[Any]:
    return [part.cone_id, part.use, part.ends, part.length_um, part.mass_mg]


def _wanted_data(wanted: Wanted) -> list[Any]:
    demand = wanted.demand
    grist = [demand.grist.length_um, demand.grist.mass_mg]
    return [
        wanted.shade_id,
        wanted.packages,
        [demand.warp_um, demand.pieces, demand.keep_back],
        grist,
        list(asdict(demand.need).values()),
    ]


def _wanted_of(data: list[Any]) -> Wanted:
    shade_id, packages, lengths, grist, need = data
    return Wanted(shade_id, Demand(Need(*need), *lengths, Grist(*grist)), packages)
