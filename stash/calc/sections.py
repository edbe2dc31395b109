"""Sections of a piece along the warp: hem, body, hem, each with its picks and its shades.

A section that weaves so many picks is never laid out pick by pick: it is a few stretches, each a part of an
order that begins anew whenever it runs out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil, floor
from typing import Literal

from stash.calc.accents import Accent, place_accents
from stash.calc.borders import without_first
from stash.calc.colour_order import Order, Run
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.losses import before_losses
from stash.calc.plan import Plan

SectionPart = Literal["hem", "body"]


@dataclass(frozen=True, slots=True)
class PickStretch:
    """`picks` picks by `order`, from its pick `start` (counted from 0) on, begun anew as often as it takes."""

    order: Order
    picks: int
    start: int = 0
    accent: bool = False

    @property
    def counts(self) -> dict[str, int]:
        """Picks of each shade."""
        until = self.order.counts_over(self.start + self.picks)
        before = self.order.counts_over(self.start)
        return {
            key: number - before.get(key, 0) for key, number in until.items() if number > before.get(key, 0)
        }

    def passes(self) -> Iterator[tuple[Order, int, int]]:
        """(order, picks of it, how often): the rest of the first repeat, whole repeats, and what is left."""
        length, left = self.order.length, self.picks
        start = self.start % length
        if start and left:
            first = min(left, length - start)
            yield without_first(self.order, start), first, 1
            left -= first
        whole, rest = divmod(left, length)
        if whole:
            yield self.order, length, whole
        if rest:
            yield self.order, rest, 1

    def sequence(self, most: int | None = None) -> Iterator[str]:
        """The shade of every pick, or of the first so many."""
        keys = self.order.sequence()
        for number in range(self.picks if most is None else min(most, self.picks)):
            yield keys[(self.start + number) % len(keys)]


@dataclass(frozen=True, slots=True)
class Section:
    part: SectionPart
    woven_um: Fraction
    """Its length on the loom."""
    picks: int
    density: Density = field(compare=False)
    """Picks to the length on the loom, as they were given."""
    stretches: tuple[PickStretch, ...]

    @property
    def counts(self) -> dict[str, int]:
        """Picks of each shade in this section."""
        counts: dict[str, int] = {}
        for stretch in self.stretches:
            for key, number in stretch.counts.items():
                counts[key] = counts.get(key, 0) + number
        return counts


@dataclass(frozen=True, slots=True)
class Woven:
    """Woven lengths and picks of one piece on the loom, under tension."""

    hem_um: Fraction
    """Each hem."""
    body_um: Fraction
    """What is woven; whole repeats and added accents may make it more than what was asked."""
    asked_um: Fraction
    """Hems and body that the finished length asks for."""
    hem_picks: tuple[int, int]
    ground_picks: int
    """In the body; picks of added accents are not among them."""
    accent_picks: int
    """Added to the body by accents; those that stand instead of picks add none."""

    @property
    def um(self) -> Fraction:
        return 2 * self.hem_um + self.body_um

    @property
    def body_picks(self) -> int:
        return self.ground_picks + self.accent_picks


def work_woven(plan: Plan) -> Woven:
    """The losses divided out, and picks rounded up: each section where hem and body differ, else the piece."""
    hem_um = before_losses(Fraction(plan.hem_cloth_um, 2), plan.losses_along)
    body_um = before_losses(plan.along_um, plan.losses_along)
    asked_um = 2 * hem_um + body_um
    if plan.hem.woven_apart or plan.whole_pick_repeats:
        hem_picks = ceil((plan.hem.picks or plan.picks).number_in(hem_um))
        hems = hem_picks, hem_picks
        ground = ceil(plan.picks.number_in(body_um))
    else:
        total = ceil(plan.picks.number_in(asked_um))
        one = ceil(plan.picks.number_in(hem_um))
        hems = min(one, total), min(one, total - min(one, total))
        ground = total - sum(hems)
    if plan.whole_pick_repeats:
        ground = max(1, ceil(Fraction(ground, plan.pick_order.length))) * plan.pick_order.length
        body_um = plan.picks.length_um_of(ground)
    added = 0
    if plan.accents_in_weft and plan.accent_way == "added":
        added = sum(accent.number for accent in plan.accents)
        body_um += plan.picks.length_um_of(added)
    return Woven(hem_um, body_um, asked_um, hems, ground, added)


def sections_of(plan: Plan, woven: Woven, pattern_ends: int) -> tuple[Section, ...]:
    """The sections of a piece in the order in which they are woven; a piece without hems is all body.

    `pattern_ends` are the ends that accents are counted in. Raises CalcError (`accents`) where an accent
    does not fit into the length of a piece.
    """
    hem = plan.hem
    first, last = woven.hem_picks
    runs_on = hem.pick_order is None and not plan.whole_pick_repeats and hem.picks is None
    hem_order = hem.pick_order or plan.pick_order
    start = first if runs_on else 0
    sections = []
    if first:
        sections.append(_hem(plan, woven, PickStretch(hem_order, first)))
    body = tuple(_body(plan, woven, pattern_ends, start))
    sections.append(Section("body", woven.body_um, woven.body_picks, plan.picks, body))
    if last:
        start = start + woven.ground_picks if runs_on else 0
        sections.append(_hem(plan, woven, PickStretch(hem_order, last, start)))
    return tuple(sections)


def _hem(plan: Plan, woven: Woven, stretch: PickStretch) -> Section:
    return Section("hem", woven.hem_um, stretch.picks, plan.hem.picks or plan.picks, (stretch,))


def _body(plan: Plan, woven: Woven, pattern_ends: int, start: int) -> Iterator[PickStretch]:
    at = 0
    for place, accent in _in_weft(plan, woven, pattern_ends):
        if place > at:
            yield PickStretch(plan.pick_order, place - at, start + at)
        yield PickStretch(Order((Run(accent.number, accent.key),)), accent.number, accent=True)
        at = place + (accent.number if plan.accent_way == "replaces" else 0)
    if at < woven.ground_picks:
        yield PickStretch(plan.pick_order, woven.ground_picks - at, start + at)


def _in_weft(plan: Plan, woven: Woven, pattern_ends: int) -> tuple[tuple[int, Accent], ...]:
    """Accents of the warp where they come in the weft: as far from the nearer end as from the nearer edge."""
    if not plan.accents_in_weft:
        return ()
    ratio = plan.picks.per_micrometre / plan.sett.per_micrometre
    moved = []
    for place, accent in place_accents(plan.accents, plan.accent_way, pattern_ends):
        own = accent.number if plan.accent_way == "replaces" else 0
        right = pattern_ends - own - place
        if accent.place is None or place == right:
            moved.append(Accent(accent.number, accent.key, None))
            continue
        distance = floor(min(place, right) * ratio + Fraction(1, 2))
        if distance + own > woven.ground_picks:
            raise CalcError(
                f"In the weft {accent.text} would lie outside the piece: give it a place nearer to an edge, or "
                "leave the accents out of the weft.",
                field="accents",
            )
        from_start = distance if place < right else woven.ground_picks - own - distance
        moved.append(Accent(accent.number, accent.key, from_start))
    return place_accents(moved, plan.accent_way, woven.ground_picks, "picks")
