"""What is left of the cones, as terms of a model: stubs, cones opened, ends wound over, and the size of what is opened.

A stub is the rest of a cone that is shorter than the shortest end which anybody wants of the shade: warp it cannot be,
unless for a shorter one, and weft it is only together with others. It is wound on bobbins, or lies about. Where weft is
taken of a cone, whose rest can be made to measure, a rest counts only if it is longer than a stub by a mg for each who
asks: rounding must not make a stub of it.
"""

from __future__ import annotations

from fractions import Fraction

from stash.calc.allot.model import UM_PER_M, Model
from stash.calc.allot.program import Terms


def metres(model: Model, mass_mg: int) -> float:
    """In metres of the model's reference."""
    grist = model.asked[0].grist
    return float(Fraction(mass_mg * grist.length_um, grist.mass_mg * UM_PER_M))


def mass_mg(model: Model, length_m: float) -> int:
    """Whole mg of so many metres, rounded down."""
    grist = model.asked[0].grist
    return int(length_m * UM_PER_M * grist.mass_mg / grist.length_um)


def stubs(model: Model, stub_mg: int) -> tuple[Terms, float]:
    """Metres of stub by cone that somebody may take of, and those of all others, which stay."""
    program = model.program
    found: dict[int, float] = {}
    settled = 0.0
    wefts = {place for part in model.parts for place in part.weft}
    for place, package in enumerate(model.packages):
        room, used = model.room[place], model.used[place]
        if not used:
            settled += room if package.free_mg < stub_mg else 0
            continue
        stub = program.variable(room)
        found[stub] = 1
        least = metres(model, stub_mg + (len(model.parts) if place in wefts else 0))
        terms = {stub: -1.0} | {variable: -factor for variable, factor in used.items()}
        if room > least:
            long = program.yes_or_no()
            # A rest that is long enough is no stub; one that is not is one, all of it.
            program.at_most(terms | {long: -room}, -room)
            program.at_most(dict(used) | {long: least}, room)
            program.at_most({stub: 1, long: min(room, least)}, min(room, least))
        else:
            program.at_most(terms, -room)
    return found, settled


def opened(model: Model) -> dict[int, int]:
    """By cone: yes or no, whether anybody takes of it."""
    program = model.program
    found = {}
    for place, used in enumerate(model.used):
        if used:
            yes = found[place] = program.yes_or_no()
            program.at_most(dict(used) | {yes: -model.room[place]}, 0)
            for variable in used:
                program.at_most({variable: 1, yes: -program.most(variable)}, 0)
    return found


def wound_over(model: Model) -> Terms:
    """Ends by cone and taker that a cone gives beyond the passes of its warp."""
    found: dict[int, float] = {}
    for part in model.parts:
        need = part.one.need
        ends = need.ends_buffered if part.buffered else need.ends
        passes = -(-ends // part.one.at_once)
        for variable in part.ends.values():
            if model.program.most(variable) > passes:
                over = model.program.variable(ends)
                model.program.at_most({variable: 1, over: -1}, passes)
                found[over] = 1
    return found


def lot_sizes(model: Model, opened_by: dict[int, int]) -> Terms:
    """Metres of the lots of which anybody takes: big lots stay whole where small ones will do."""
    sizes: dict[tuple[bool, int], list[int]] = {}
    for place, package in enumerate(model.packages):
        if place in opened_by:
            sizes.setdefault(package.of_lot, []).append(place)
    found: dict[int, float] = {}
    for cones in sizes.values():
        yes = model.program.yes_or_no()
        for place in cones:
            model.program.at_most({opened_by[place]: 1, yes: -1}, 0)
        found[yes] = sum(model.room[place] for place in cones)
    return found


def cone_sizes(model: Model, opened_by: dict[int, int]) -> Terms:
    """Metres of the cones of which anybody takes."""
    return {yes: model.room[place] for place, yes in opened_by.items()}


def takers(model: Model) -> Terms:
    """How many take of each cone: nobody should have to look for more cones than need be."""
    program = model.program
    found: dict[int, float] = {}
    for part in model.parts:
        for place in part.cones:
            variables = [of_use[place] for of_use in (part.ends, part.weft) if place in of_use]
            if variables:
                yes = program.yes_or_no()
                found[yes] = 1
                for variable in variables:
                    program.at_most({variable: 1, yes: -program.most(variable)}, 0)
    return found
