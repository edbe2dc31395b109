"""One shade as a program: who gets how many whole ends and how much weft from which cone.

Variables count ends and pieces, which are whole, and metres of weft. A cone holds metres of a grist of reference (that
of the first who asks; a project may have frozen another), so that figures stay near each other: in kilometres the
solver's tolerance would be longer than a warp end is apart from the next. Its answers are then made exact by
`stash.calc.allot.exact`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from stash.calc.allot.asked import Asked, Key, Package
from stash.calc.allot.program import Program, Terms
from stash.calc.packing import Line

UM_PER_M = 1_000_000
Lot = tuple[bool, int]


@dataclass(slots=True)
class Part:
    """The variables of one who asks; cones by their place among the packages."""

    one: Asked
    ratio: float
    """Metres of reference that weigh as much as one of its metres."""
    cones: list[int]
    lots: dict[Lot, list[int]]
    buffer: int | None = None
    """Yes or no: the buffer too. None where that is settled."""
    buffered: bool = False
    ends: dict[int, int] = field(default_factory=dict)
    weft: dict[int, int] = field(default_factory=dict)
    pieces: dict[Lot, int] = field(default_factory=dict)
    sample: dict[Lot, int] = field(default_factory=dict)
    warp_lot: dict[Lot, int] = field(default_factory=dict)
    """Yes or no, of those lots only among which there is a choice."""
    weft_lot: dict[Lot, int] = field(default_factory=dict)
    any_lot: dict[Lot, int] = field(default_factory=dict)
    mixed: int | None = None

    @property
    def warp_m(self) -> float:
        return self.one.warp_um / UM_PER_M


class Model:
    """`buffers`: the keys of those whose buffered need is asked; or None for a choice that each may have.

    `kept` are lines of those who are not served, each of which may stay.
    """

    def __init__(
        self,
        asked: Sequence[Asked],
        packages: Sequence[Package],
        *,
        buffers: Collection[Key] | None = (),
        kept: Sequence[tuple[Asked, Line]] = (),
    ) -> None:
        self.asked = asked
        self.packages = packages
        self.program = Program()
        self.impossible = False
        """Something is asked that no cone may serve."""
        grist = asked[0].grist
        self._m_per_mg = Fraction(grist.length_um, grist.mass_mg * UM_PER_M)
        self.room = [float(package.free_mg * self._m_per_mg) for package in packages]
        self.used: list[dict[int, float]] = [{} for _ in packages]
        """By cone: metres of reference that are taken of it."""
        self._rows: list[tuple[int, float]] = []
        self._rests: list[tuple[int, float]] = []
        self.kept = [(one, line, self.program.yes_or_no()) for one, line in kept]
        at = {package.id: place for place, package in enumerate(packages)}
        for _, line, stays in self.kept:
            self.used[at[line.cone_id]][stays] = float(line.mass_mg * self._m_per_mg)
        self.parts = [self._part(one, buffers) for one in asked]
        for place, room in enumerate(self.room):
            if self.used[place]:
                self._rows.append((self.program.at_most(self.used[place], room), room))
        for part in self.parts:
            if part.one.keep_back:
                self._knots(part)

    def _part(self, one: Asked, buffers: Collection[Key] | None) -> Part:
        need = one.need
        ratio = float(Fraction(one.grist.mass_mg, one.grist.length_um) * self._m_per_mg * UM_PER_M)
        cones = [
            place
            for place, package in enumerate(self.packages)
            if package.free_mg
            and (need.wish != "lot" or package.lot == need.wish_lot_id)
            and (need.wish != "cone" or package.id == need.wish_cone_id)
        ]
        lots: dict[Lot, list[int]] = {}
        for place in cones:
            lots.setdefault(self.packages[place].of_lot, []).append(place)
        part = Part(one, ratio, cones, lots)
        if buffers is None:
            part.buffer = self.program.yes_or_no()
        else:
            part.buffered = one.key in buffers
        if not lots:
            self.impossible |= bool(need.ends or need.weft_um(one.pieces))
            if part.buffer is not None:
                wanted = need.ends_buffered + need.weft_um(one.pieces, buffered=True)
                self.program.at_most({part.buffer: 1}, 0 if wanted else 1)
            return part
        self._warp(part)
        self._weft(part)
        self._lots(part)
        return part

    def _warp(self, part: Part) -> None:
        one, program = part.one, self.program
        bare, most = one.need.ends, one.need.ends_buffered
        if part.buffer is None:
            bare = most = most if part.buffered else bare
        if not most:
            return
        for place in part.cones:
            length = self.packages[place].free_mg * one.grist.length_um // one.grist.mass_mg
            can = min(most, max(0, length // one.warp_um - one.keep_back))
            if can:
                part.ends[place] = program.variable(can, whole=True)
                self._use(part, place, part.ends[place], part.warp_m)
        terms: dict[int, float] = dict.fromkeys(part.ends.values(), 1)
        if part.buffer is not None:
            terms[part.buffer] = float(bare - most)
        program.equal(terms, bare)
        for lot, cones in part.lots.items():
            of_lot = [part.ends[place] for place in cones if place in part.ends]
            if of_lot and len(part.lots) > 1:
                yes = part.warp_lot[lot] = program.yes_or_no()
                can = min(most, sum(int(program.most(end)) for end in of_lot))
                program.at_most(dict.fromkeys(of_lot, 1.0) | {yes: -float(can)}, 0)
        if len(part.warp_lot) > 1:
            part.mixed = program.yes_or_no()
            program.at_most(
                dict.fromkeys(part.warp_lot.values(), 1.0) | {part.mixed: 1.0 - len(part.warp_lot)}, 1
            )

    def _weft(self, part: Part) -> None:
        one, need, program = part.one, part.one.need, self.program
        choice = part.buffer is not None
        piece, piece_more = need.weft_piece_um, need.weft_piece_buffered_um - need.weft_piece_um
        sample, sample_more = need.weft_sample_um, need.weft_sample_buffered_um - need.weft_sample_um
        if not choice:
            piece, sample = piece + part.buffered * piece_more, sample + part.buffered * sample_more
            piece_more = sample_more = 0
        pieces = one.pieces if piece or piece_more else 0
        if not (pieces or sample or sample_more):
            return
        wanted = pieces * (piece + piece_more) + sample + sample_more
        for place in part.cones:
            length = self.packages[place].free_mg * one.grist.length_um // one.grist.mass_mg
            part.weft[place] = program.variable(min(length, wanted) / UM_PER_M)
            self._use(part, place, part.weft[place], 1)
        if len(part.lots) == 1:
            terms = dict.fromkeys(part.weft.values(), 1.0)
            if part.buffer is not None:
                terms[part.buffer] = -(pieces * piece_more + sample_more) / UM_PER_M
            program.equal(terms, (pieces * piece + sample) / UM_PER_M)
            return
        more_pieces: dict[int, float] = {}
        more_sample: dict[int, float] = {}
        for lot, cones in part.lots.items():
            terms = dict.fromkeys((part.weft[place] for place in cones), 1.0)
            yes = part.weft_lot[lot] = program.yes_or_no()
            if pieces:
                number = part.pieces[lot] = program.variable(pieces, whole=True)
                terms[number] = -piece / UM_PER_M
                can = sum(int(program.most(part.weft[place]) * UM_PER_M + 0.5) for place in cones)
                most = min(pieces, can // piece) if piece else pieces
                program.bound(number, 0, most)
                program.at_most({number: 1, yes: -float(most)}, 0)
                if piece_more:
                    more = program.variable(pieces, whole=True)
                    more_pieces[more] = 1
                    terms[more] = -piece_more / UM_PER_M
                    program.at_most({more: 1, number: -1}, 0)
            if sample or sample_more:
                here = part.sample[lot] = program.yes_or_no()
                terms[here] = -sample / UM_PER_M
                program.at_most({here: 1, yes: -1}, 0)
                if sample_more:
                    more = program.yes_or_no()
                    more_sample[more] = 1
                    terms[more] = -sample_more / UM_PER_M
                    program.at_most({more: 1, here: -1}, 0)
            program.equal(terms, 0)
        if part.pieces:
            program.equal(dict.fromkeys(part.pieces.values(), 1), pieces)
        if part.sample:
            program.equal(dict.fromkeys(part.sample.values(), 1), 1)
        if part.buffer is not None:
            if more_pieces:
                program.equal(more_pieces | {part.buffer: -pieces}, 0)
            if more_sample:
                program.equal(more_sample | {part.buffer: -1}, 0)

    def _lots(self, part: Part) -> None:
        """Which lots it takes of, for warp or weft, and that it is one if one is wished for."""
        if len(part.lots) == 1:
            return
        for lot in part.lots:
            yes = part.any_lot[lot] = self.program.yes_or_no()
            for which in (part.warp_lot, part.weft_lot):
                if lot in which:
                    self.program.at_most({which[lot]: 1, yes: -1}, 0)
        if part.one.need.wish == "same":
            self.program.at_most(dict.fromkeys(part.any_lot.values(), 1), 1)

    def _knots(self, part: Part) -> None:
        """What is kept back of a cone that gives warp is there beside what all others take of it."""
        for place, ends in part.ends.items():
            yes = self.program.yes_or_no()
            self.program.at_most({ends: 1, yes: -self.program.most(ends)}, 0)
            terms = dict(self.used[place])
            if place in part.weft:
                del terms[part.weft[place]]
            terms[yes] = part.one.keep_back * part.warp_m * part.ratio
            self._rows.append((self.program.at_most(terms, self.room[place]), self.room[place]))

    def _use(self, part: Part, place: int, variable: int, metres: float) -> None:
        self.used[place][variable] = metres * part.ratio

    def leave(self, mass_mg: int) -> None:
        """Leave out of the reckoning so many mg of each cone for each who asks: one is all that rounding can cost."""
        margin = float(mass_mg * len(self.asked) * self._m_per_mg)
        for row, room in self._rows:
            self.program.limit(row, max(0.0, room - margin))
        for row, most in self._rests:
            self.program.limit(row, most + margin * len(self.packages))

    def hold_rests(self, terms: Terms, most: float) -> None:
        """A row of what is left of the cones: what `leave` leaves of them is no fault of the solution."""
        self._rests.append((self.program.at_most(terms, most), most))

    def hint(self, lines: Mapping[Key, Sequence[Line]]) -> dict[int, float]:
        """The ends and the weft of these lines, to begin with."""
        at = {package.id: place for place, package in enumerate(self.packages)}
        hint: dict[int, float] = {}
        for part in self.parts:
            for variable in (*part.ends.values(), *part.weft.values()):
                hint[variable] = 0
            for line in lines.get(part.one.key, ()):
                of_use = part.ends if line.use == "warp" else part.weft
                if at[line.cone_id] in of_use:
                    hint[of_use[at[line.cone_id]]] = line.ends or line.length_um / UM_PER_M
        return hint
