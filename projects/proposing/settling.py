"""What is put aside already stays where it is, as long as that costs nothing: cones are fetched and labelled once.

An allotment knows no better reason for one of two cones that serve alike than the order of the shelf. So whoever holds
just what he needs, from no more lots and with no less of a buffer than is proposed, keeps it, where the others still
find theirs, and where no more is left over on stubs for it nor more cones are begun.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from projects.proposing.coverage import covers
from projects.proposing.gathering import Gathered, Part, Party, Wanted
from projects.proposing.proposal import of_shade, on_cones
from projects.proposing.shares import allotment_of, buffered_sums, sums
from stash.calc.allot import Allotment, Asked, Package, ShadeReport, check_allotment

Given = dict[int, tuple[Part, ...]]
"""What each project gets of one shade, by its key."""


def settled(
    gathered: Gathered, found: Allotment, asked: Sequence[Asked], packages: Sequence[Package]
) -> Given:
    """What each project is to hold, of all shades: as it was allotted, or as it is."""
    given: dict[int, list[Part]] = {party.pk: [] for party in gathered.parties}
    allotted: dict[int, Given] = {}
    for share in found.shares:
        parts = tuple(
            sorted(
                Part(line.cone_id, line.use, line.ends, line.length_um, line.mass_mg) for line in share.lines
            )
        )
        allotted.setdefault(share.shade_id, {})[share.project_id] = parts
    served = set(found.served)
    by_shade: dict[int, list[Asked]] = {}
    for one in asked:
        by_shade.setdefault(one.shade_id, []).append(one)
    cones: dict[int, list[Package]] = {}
    for package in packages:
        cones.setdefault(package.shade_id, []).append(package)
    parties = {party.pk: party for party in gathered.parties}
    for report in found.reports:
        shade = _Shade(
            gathered,
            report,
            by_shade.get(report.shade_id, ()),
            cones.get(report.shade_id, ()),
            parties,
            served,
        )
        for pk, parts in shade.settled(allotted.get(report.shade_id, {})).items():
            given[pk] += parts
    return {pk: tuple(sorted(parts)) for pk, parts in given.items()}


@dataclass(frozen=True, slots=True)
class _Shade:
    gathered: Gathered
    report: ShadeReport
    asked: Sequence[Asked]
    packages: Sequence[Package]
    parties: Mapping[int, Party]
    served: set[int]

    def settled(self, given: Given) -> Given:
        held = {
            one.project_id: parts
            for one in self.asked
            if one.project_id in self.served
            and (parts := self._held(one))
            and parts != given.get(one.project_id)
            and self._serves_as_well(one, parts, given.get(one.project_id, ()))
        }
        kept = self._most_that_fit(given, held)
        if self._is_no_worse(given, kept):
            return kept
        for pk, parts in held.items():
            one_more = given | {pk: parts}
            if self._fits(one_more) and self._is_no_worse(given, one_more):
                given = one_more
        return given

    def _held(self, one: Asked) -> tuple[Part, ...]:
        return of_shade(self.parties[one.project_id].held, one.shade_id, self.gathered.cones)

    def _wanted(self, one: Asked) -> Wanted:
        return next(
            wanted for wanted in self.parties[one.project_id].wanted if wanted.shade_id == one.shade_id
        )

    def _serves_as_well(self, one: Asked, held: Sequence[Part], given: Sequence[Part]) -> bool:
        """Just the need, as it is reserved, with as much of the buffer and from no more lots."""
        cones = self.gathered.cones
        if any(part.cone_id not in {package.id for package in self.packages} for part in held):
            return False
        wanted = self._wanted(one)
        demand = wanted.demand
        before, after = (covers(wanted, parts, cones) for parts in (held, given))
        bare = demand.need.ends, demand.need.weft_um(demand.pieces)
        return (
            sums(held) == (buffered_sums(wanted) if sums(given) == buffered_sums(wanted) else bare)
            and all(part.length_um == part.ends * demand.warp_um for part in held if part.ends)
            and before.state >= after.state
            and (len(before.warp_lots), len(before.weft_lots)) <= (len(after.warp_lots), len(after.weft_lots))
        )

    def _most_that_fit(self, given: Given, held: Given) -> Given:
        """All keep what they hold, but those who stand on a cone that does not suffice for that."""
        keeping = dict(held)
        while True:
            tried = given | keeping
            if not keeping or self._fits(tried):
                return tried
            over = self._overdrawn(tried)
            moving = [pk for pk, parts in keeping.items() if over & on_cones(parts).keys()]
            # What is kept back for knots may be what does not fit: then no cone is overdrawn.
            for pk in moving or list(keeping)[-1:]:
                del keeping[pk]

    def _overdrawn(self, given: Given) -> set[int]:
        taken: dict[int, int] = {}
        for parts in given.values():
            for cone_id, mg in on_cones(parts).items():
                taken[cone_id] = taken.get(cone_id, 0) + mg
        free = {package.id: package.free_mg for package in self.packages}
        return {cone_id for cone_id, mg in taken.items() if mg > free.get(cone_id, 0)}

    def _fits(self, given: Given) -> bool:
        short = {party.pk for party in self.gathered.parties} - self.served
        found = allotment_of(self.gathered, given, short, self.report.shade_id)
        return not check_allotment(self.asked, self.packages, found)

    def _is_no_worse(self, before: Given, after: Given) -> bool:
        """Where nobody contests the shade, what is left over was not weighed, so it decides nothing."""
        return self.report.way == "proposals" or self._worth(after) <= self._worth(before)

    def _worth(self, given: Given) -> tuple[int, int]:
        """mg on stubs, and cones begun."""
        taken: dict[int, int] = {}
        for parts in given.values():
            for cone_id, mg in on_cones(parts).items():
                taken[cone_id] = taken.get(cone_id, 0) + mg
        grist = self.asked[0].grist if self.asked else None
        stub_mg = -(-self.report.stub_um * grist.mass_mg // grist.length_um) if grist else 0
        rests = (package.free_mg - taken.get(package.id, 0) for package in self.packages)
        return sum(rest for rest in rests if 0 < rest < stub_mg), len(taken)
