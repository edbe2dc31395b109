"""A stocktake's difference between the books and the scale: is it noise, and if not, what may explain it?

Each reason is a hypothesis that gives the net weight one should have found were it true; it is told when
the weight found lies within noise of that. Nothing is decided here: a reason is a hint for the person.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from stash.calc.errors import CalcError
from stash.calc.regain import blended, mass_at_regain, regain_of

# calculations.md; common practice, no source. Every other fibre, or none noted, is taken like cotton.
NOISE_OF_PLANTS = Fraction(2, 100)
NOISE_OF_ANIMALS = Fraction(3, 100)
# What the last figure of a common kitchen scale steps by: 1 g, or 0.1 oz (common practice, no source).
DIVISION_MG = {"g": 1_000, "oz": 2_835}
DIVISIONS = 2
# 1 oz = 28.349523125 g exactly, the sixteenth part of 453.59237 g.
G_PER_OZ = Fraction(45_359_237, 1_600_000)


class Why(StrEnum):
    """Kinds of likely reason."""

    MOISTURE = "moisture"
    ESTIMATE = "estimate"
    CORE_LEFT_ON = "core left on"
    CORE_OFF_TWICE = "core off twice"
    USED = "used"
    OUNCES = "ounces"
    GRAMS = "grams"
    OTHER_CONE = "other cone"


@dataclass(frozen=True, slots=True)
class Held:
    """So much of the cone is put aside for `name`."""

    name: str
    mass_mg: int


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Another cone of the same place, as the books have it. `core_mg` None: not known."""

    code: str
    net_mg: int
    core_mg: int | None = None


@dataclass(frozen=True, slots=True)
class Weighed:
    """One counted cone. `net_mg` is the yarn that the scale's figure gives, `core_mg` what its core weighs.

    `fibres` are (name, per cent) pairs. Masses are whole mg. Raises CalcError for one below nothing.
    """

    books_mg: int
    scale_mg: int
    net_mg: int
    is_gross: bool
    core_mg: int | None = None
    fibres: tuple[tuple[str, int], ...] = ()
    is_estimate: bool = False
    division_mg: int = DIVISION_MG["g"]

    def __post_init__(self) -> None:
        for name in ("books_mg", "scale_mg", "net_mg", "division_mg"):
            if getattr(self, name) < 0:
                raise CalcError("A weight cannot be below 0.", field=name)

    @property
    def difference_mg(self) -> int:
        """More yarn than the books know is above nothing."""
        return self.net_mg - self.books_mg

    @property
    def share(self) -> Fraction | None:
        """The difference as a share of the books; None where the books have nothing."""
        return Fraction(self.difference_mg, self.books_mg) if self.books_mg else None

    @property
    def is_noise(self) -> bool:
        return self._fits(Fraction(self.books_mg))

    def _fits(self, expected_mg: Fraction) -> bool:
        """Was what was found to be expected, but for noise?"""
        return abs(self.net_mg - expected_mg) < noise_mg(expected_mg, self.fibres, self.division_mg)


@dataclass(frozen=True, slots=True)
class Likely:
    """One likely reason with its figures, as far as it has any.

    MOISTURE: the same dry yarn weighs `low_mg` to `high_mg`, at regains from `low` to `high` (None: the table
    does not know the fibre). CORE_LEFT_ON, CORE_OFF_TWICE: `mass_mg` is the core's. USED: `name` is whose, `mass_mg` what is
    put aside for it. OTHER_CONE: `name` is its code, `mass_mg` its net in the books. OUNCES: the figure was
    ounces, taken as grams, and means `mass_mg` on the scale; GRAMS: the other way round.
    """

    why: Why
    mass_mg: int | Fraction = 0
    name: str = ""
    low_mg: Fraction | None = None
    high_mg: Fraction | None = None
    low: Fraction | None = None
    high: Fraction | None = None


def noise_share(fibres: Iterable[tuple[str, int]]) -> Fraction:
    """The share of a weight that means nothing: 2 %, of animal fibre 3 %, of a blend in proportion."""
    shares = [(_noise_of(fibre), percent) for fibre, percent in fibres]
    total = sum(percent for _, percent in shares)
    if not total:
        return NOISE_OF_PLANTS
    return sum((share * percent for share, percent in shares), Fraction(0)) / total


def _noise_of(fibre: str) -> Fraction:
    known = regain_of(fibre)
    return NOISE_OF_ANIMALS if known and known.animal else NOISE_OF_PLANTS


def noise_mg(books_mg: int | Fraction, fibres: Iterable[tuple[str, int]], division_mg: int) -> Fraction:
    """A difference below this many mg is noise: the share of the books, or two divisions of the scale if more."""
    return max(noise_share(fibres) * books_mg, Fraction(DIVISIONS * division_mg))


def likely_reasons(
    found: Weighed, *, held: Iterable[Held] = (), neighbours: Iterable[Neighbour] = ()
) -> tuple[Likely, ...]:
    """What may explain the difference, the plainest first; () where there is none at all."""
    if not found.difference_mg:
        return ()
    reasons = [*_of_moisture(found)]
    if found.is_estimate:
        reasons.append(Likely(Why.ESTIMATE))
    if found.is_noise:
        return tuple(reasons)
    reasons += [*_of_core(found), *_of_use(found, list(held)), *_of_unit(found), *_of_cone(found, neighbours)]
    return tuple(reasons)


def _of_moisture(found: Weighed) -> Iterator[Likely]:
    regains = blended(found.fibres)
    if regains is None:
        if found.is_noise:
            yield Likely(Why.MOISTURE)
        return
    low, high = regains
    dry, damp = mass_at_regain(found.books_mg, high, low), mass_at_regain(found.books_mg, low, high)
    if found.is_noise or dry <= found.net_mg <= damp:
        yield Likely(Why.MOISTURE, low_mg=dry, high_mg=damp, low=low, high=high)


def _of_core(found: Weighed) -> Iterator[Likely]:
    if not found.core_mg:
        return
    if not found.is_gross and found._fits(Fraction(found.books_mg + found.core_mg)):
        yield Likely(Why.CORE_LEFT_ON, mass_mg=found.core_mg)
    if found.is_gross and found._fits(Fraction(found.books_mg - found.core_mg)):
        yield Likely(Why.CORE_OFF_TWICE, mass_mg=found.core_mg)


def _of_use(found: Weighed, held: list[Held]) -> Iterator[Likely]:
    for one in held:
        if found._fits(Fraction(found.books_mg - one.mass_mg)):
            yield Likely(Why.USED, mass_mg=one.mass_mg, name=one.name)
    total = sum(one.mass_mg for one in held)
    if len(held) > 1 and found._fits(Fraction(found.books_mg - total)):
        yield Likely(Why.USED, mass_mg=total, name=" and ".join(one.name for one in held))


def _of_unit(found: Weighed) -> Iterator[Likely]:
    core = found.scale_mg - found.net_mg
    noise = noise_mg(found.books_mg, found.fibres, found.division_mg)
    for why, meant, near in (
        # Ounces are often typed whole.
        (Why.OUNCES, found.scale_mg * G_PER_OZ, max(noise, 1000 * G_PER_OZ / 2)),
        (Why.GRAMS, found.scale_mg / G_PER_OZ, noise),
    ):
        if abs(meant - core - found.books_mg) < near:
            yield Likely(why, mass_mg=meant)


def _of_cone(found: Weighed, neighbours: Iterable[Neighbour]) -> Iterator[Likely]:
    """The other cone whose weight in the books is nearest to the scale's figure, if it is near."""
    best: tuple[Fraction, Neighbour] | None = None
    for other in neighbours:
        if found.is_gross and other.core_mg is None:
            continue
        should = other.net_mg + ((other.core_mg or 0) if found.is_gross else 0)
        off = abs(Fraction(found.scale_mg - should))
        if off < noise_mg(other.net_mg, found.fibres, found.division_mg) and (best is None or off < best[0]):
            best = (off, other)
    if best:
        yield Likely(Why.OTHER_CONE, mass_mg=best[1].net_mg, name=best[1].code)
