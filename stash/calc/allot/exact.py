"""What the solver found, made exact: whole ends, whole um, whole mg, and no cone asked for more than it holds."""

from __future__ import annotations

from collections.abc import Sequence

from stash.calc.allot.asked import Key
from stash.calc.allot.model import UM_PER_M, Model, Part
from stash.calc.allot.taken import Taken, mass_up
from stash.calc.packing import Line

LEAST_UM = 1000
"""Less weft than this of a cone is the solver's tolerance, not an intention."""


def made_exact(model: Model, values: Sequence[float]) -> Taken | None:
    """The lines of a solution; None where it only holds by the solver's tolerance.

    Metres are rounded to um so that each lot gives just its pieces and its sample. If a cone is then overdrawn by a
    few mg, weft goes to another cone of the same lot.
    """
    amounts = [_Amounts(model, part, values) for part in model.parts]
    taken = Taken(model.packages)
    stay: dict[Key, list[Line]] = {}
    for one, line, stays in model.kept:
        if values[stays] > 0.5:
            stay.setdefault(one.key, []).append(line)
    for one in dict.fromkeys(one for one, _, _ in model.kept):
        taken.give(one, stay.get(one.key, ()), kept=True)
    for of_one in amounts:
        taken.give(of_one.part.one, of_one.lines())
    for _ in range(2):
        over = {cone.id for cone in taken.overdrawn()}
        if not over:
            return taken
        for of_one in amounts:
            of_one.give_way(taken, over)
            taken.give(of_one.part.one, of_one.lines())
    return taken if not taken.overdrawn() else None


def buffers_of(model: Model, values: Sequence[float]) -> frozenset[Key]:
    """Whose buffer a solution serves."""
    return frozenset(
        part.one.key
        for part in model.parts
        if part.buffered or (part.buffer is not None and values[part.buffer] > 0.5)
    )


class _Amounts:
    """Ends and um of weft by cone (its place) of one who asks."""

    def __init__(self, model: Model, part: Part, values: Sequence[float]) -> None:
        self.model = model
        self.part = part
        self.buffered = part.buffered or (part.buffer is not None and values[part.buffer] > 0.5)
        self.ends = {place: round(values[ends]) for place, ends in part.ends.items()}
        self.weft: dict[int, int] = {}
        one, need = part.one, part.one.need
        piece = need.weft_piece_buffered_um if self.buffered else need.weft_piece_um
        sample = need.weft_sample_buffered_um if self.buffered else need.weft_sample_um
        for lot, cones in part.lots.items():
            if len(part.lots) == 1:
                total = one.pieces * piece + sample
            else:
                total = round(values[part.pieces[lot]]) * piece if part.pieces else 0
                total += round(values[part.sample[lot]]) * sample if part.sample else 0
            if part.weft:
                self._divide({place: values[part.weft[place]] for place in cones}, total)

    def _divide(self, metres: dict[int, float], total: int) -> None:
        """So many um in all, rounded; what rounding leaves goes to the cone that gives most already."""
        found = {place: round(length * UM_PER_M) for place, length in metres.items()}
        found = {place: length if length >= LEAST_UM else 0 for place, length in found.items()}
        if total and found:
            most = max(found, key=lambda place: (found[place], -place))
            found[most] += total - sum(found.values())
        self.weft |= {place: length for place, length in found.items() if length and total}

    def lines(self) -> list[Line]:
        one = self.part.one
        warp, weft = [], []
        for place in self.part.cones:
            cone_id = self.model.packages[place].id
            ends, length = self.ends.get(place, 0), self.weft.get(place, 0)
            before = ends * one.warp_um
            if ends:
                warp.append(Line(cone_id, "warp", ends, before, mass_up(one, before)))
            if length:
                mass = mass_up(one, before + length) - mass_up(one, before)
                weft.append(Line(cone_id, "weft", 0, length, mass))
        return warp + weft

    def give_way(self, taken: Taken, over: set[int]) -> None:
        """Move weft off cones that are overdrawn, within the lot, as far as other cones have room."""
        one = self.part.one
        for cones in self.part.lots.values():
            for place in cones:
                package = self.model.packages[place]
                if package.id not in over or not self.weft.get(place):
                    continue
                excess = next((cone.excess_mg for cone in taken.overdrawn() if cone.id == package.id), 0)
                wanted = min(self.weft[place], -(-excess * one.grist.length_um // one.grist.mass_mg))
                for other in cones:
                    room = taken.room_mg(self.model.packages[other].id)
                    moved = min(wanted, room * one.grist.length_um // one.grist.mass_mg)
                    if other == place or moved <= 0 or not wanted:
                        continue
                    self.weft[place] -= moved
                    self.weft[other] = self.weft.get(other, 0) + moved
                    wanted -= moved
                    taken.give(one, self.lines())
