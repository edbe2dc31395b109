"""The ends of a warp from the left: which part of the plan each is, its heddle and its place in the reed.

`WorkedPlan.warp_order` is the sequence of all ends. A `Layout` says of it what an order alone cannot: where
selvedges float or are doubled, where borders, balance and accents stand. Both are a handful of stretches, so
that neither costs anything to make; whoever needs end by end asks for `ends`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from stash.calc.accents import Accent, AccentEffect, PlacedAccent, place_accents
from stash.calc.borders import mirrored, without_first
from stash.calc.colour_order import Item, Order, Run
from stash.calc.errors import CalcError
from stash.calc.plan import Plan

Part = Literal["floating", "doubled", "border", "body", "balance", "accent"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Ends side by side that are alike in all but shade; `at` counts the ends to their left.

    `floating` is a floating selvedge. `doubled` is the end that was added beside an outermost one: it lies to
    the right of the end that it doubles, and shares what `shares_heddle` and `shares_dent` say with it.
    `body` is the order itself, `balance` its first ends once more, `border` either border.
    """

    part: Part
    at: int
    order: Order
    in_heddle: bool = True
    shares_heddle: bool = False
    shares_dent: bool = False

    @property
    def number(self) -> int:
        return self.order.length


@dataclass(frozen=True, slots=True)
class End:
    """One end: its shade, its part, its heddle (None: in none) and its place in the reed, from 0, from the left.

    Ends of one place share a dent whatever the sley; a sley groups places into dents.
    """

    number: int
    key: str
    part: Part
    heddle: int | None
    place: int


@dataclass(frozen=True, slots=True)
class Layout:
    stretches: tuple[Stretch, ...]
    accents: tuple[PlacedAccent, ...]
    ends: int
    heddles: int
    """Heddles in use: ends doubled in the heddle share one, floating ones have none."""
    places: int
    """Places in the reed: ends that share a dent with another stand in one place with it."""
    pattern_ends: int
    """Borders, repeats, balance and added accents; without floating and doubled ends."""

    def each(self) -> Iterator[End]:
        """Every end from the left."""
        number, heddle, place = 0, -1, -1
        for stretch in self.stretches:
            for key in stretch.order.sequence():
                if stretch.in_heddle and not stretch.shares_heddle:
                    heddle += 1
                if not stretch.shares_dent:
                    place += 1
                yield End(number, key, stretch.part, heddle if stretch.in_heddle else None, place)
                number += 1

    def heddle_keys(self) -> tuple[str, ...]:
        """The shade in every heddle in use from the left: what the threading is written over."""
        return tuple(
            key
            for stretch in self.stretches
            if stretch.in_heddle and not stretch.shares_heddle
            for key in stretch.order.sequence()
        )

    def place_keys(self) -> tuple[tuple[str, ...], ...]:
        """The shades in every place in the reed from the left: what a sley is written over."""
        places: list[tuple[str, ...]] = []
        for stretch in self.stretches:
            for key in stretch.order.sequence():
                if stretch.shares_dent:
                    places[-1] += (key,)
                else:
                    places.append((key,))
        return tuple(places)


@dataclass(frozen=True, slots=True)
class _Bit:
    """A stretch before it has its place."""

    part: Part
    order: Order
    in_heddle: bool = True
    shares_heddle: bool = False
    shares_dent: bool = False
    accent: int = -1
    """Which accent it is, counted from the left."""


def lay_out(plan: Plan, repeats: int | None) -> tuple[Order, Layout]:
    """The whole warp of so many repeats (None: the order is the warp), and what its ends are.

    Raises CalcError where an accent lies outside, or more ends are to be doubled than there are.
    """
    bits = _pattern(plan, repeats)
    threads = _length(bits)
    placed = place_accents(plan.accents, plan.accent_way, threads)
    effects = _effects(bits, placed, plan)
    for at, (place, accent) in reversed(list(enumerate(placed))):
        left, rest = _split(bits, place)
        if plan.accent_way == "replaces":
            rest = _split(rest, accent.number)[1]
        bits = [*left, _Bit("accent", Order((Run(accent.number, accent.key),)), accent=at), *rest]
    pattern_ends = _length(bits)
    bits = _with_selvedges(bits, plan, pattern_ends)
    stretches: list[Stretch] = []
    stands: dict[int, int] = {}
    at = heddles = places = 0
    for bit in bits:
        stretches.append(Stretch(bit.part, at, bit.order, bit.in_heddle, bit.shares_heddle, bit.shares_dent))
        stands.setdefault(bit.accent, at)
        at += bit.order.length
        heddles += bit.order.length if bit.in_heddle and not bit.shares_heddle else 0
        places += 0 if bit.shares_dent else bit.order.length
    items: tuple[Item, ...] = sum((bit.order.items for bit in bits), ())
    accents = tuple(
        PlacedAccent(accent, place, stands[number], effect)
        for number, ((place, accent), effect) in enumerate(zip(placed, effects, strict=True))
    )
    return Order(items), Layout(tuple(stretches), accents, at, heddles, places, pattern_ends)


def _pattern(plan: Plan, repeats: int | None) -> list[_Bit]:
    if repeats is None:
        return [_Bit("body", plan.order)]
    bits = [_Bit("body", plan.order.filled(repeats))]
    if plan.balance_ends:
        bits.append(_Bit("balance", plan.order.first(plan.balance_ends)))
    if plan.border:
        bits = [_Bit("border", plan.border), *bits, _Bit("border", mirrored(plan.border))]
    return bits


def _effects(bits: list[_Bit], placed: Sequence[tuple[int, Accent]], plan: Plan) -> list[AccentEffect]:
    """What each accent does; accents that stand at one place are looked at one by one."""
    if not placed or plan.accent_way == "replaces":
        return ["none"] * len(placed)
    keys = Order(sum((bit.order.items for bit in bits), ())).sequence()
    return [_effect(keys, place) if accent.number % 2 else "none" for place, accent in placed]


def _effect(keys: Sequence[str], place: int) -> AccentEffect:
    """Of an odd number of ends added there: what the two ends on either side say."""
    if place in (0, len(keys)):
        return "none"
    if not 2 <= place <= len(keys) - 2:
        return "moves"
    outer_left, left, right, outer_right = keys[place - 2 : place + 2]
    if (outer_left, left) == (right, outer_right) and left != right:
        return "flips"
    if (outer_left, left) == (outer_right, right) and left != outer_left:
        return "mirrors"
    return "moves"


def _with_selvedges(bits: list[_Bit], plan: Plan, pattern_ends: int) -> list[_Bit]:
    selvedges = plan.selvedges
    number = selvedges.doubled_ends
    if 2 * number > pattern_ends:
        raise CalcError(
            f"The warp has {pattern_ends:,} ends: at most {pattern_ends // 2:,} on each side can be doubled.",
            field="doubled_ends",
        )
    first, last = _key_at(bits[0], 0), _key_at(bits[-1], -1)
    if number:
        left, rest = _split(bits, number)
        middle, right = _split(rest, pattern_ends - 2 * number)
        bits = [*_doubled(left, plan), *middle, *_doubled(right, plan)]
    if selvedges.floating:
        left_key, right_key = selvedges.floating_key or first, selvedges.floating_key or last
        bits = [_floating(left_key), *bits, _floating(right_key)]
    return bits


def _doubled(bits: list[_Bit], plan: Plan) -> list[_Bit]:
    ways = plan.selvedges
    found = []
    for bit in bits:
        for key in bit.order.sequence():
            one = Order((Run(1, key),))
            found.append(replace(bit, order=one))
            found.append(_Bit("doubled", one, shares_heddle=ways.shares_heddle, shares_dent=ways.shares_dent))
    return found


def _floating(key: str) -> _Bit:
    return _Bit("floating", Order((Run(1, key),)), in_heddle=False)


def _length(bits: Sequence[_Bit]) -> int:
    return sum(bit.order.length for bit in bits)


def _key_at(bit: _Bit, place: int) -> str:
    order = bit.order.first(1) if place == 0 else mirrored(bit.order).first(1)
    return order.sequence()[0]


def _split(bits: list[_Bit], at: int) -> tuple[list[_Bit], list[_Bit]]:
    """The stretches left and right of so many ends; one that is cut keeps its part on both sides."""
    left: list[_Bit] = []
    for place, bit in enumerate(bits):
        if at >= bit.order.length:
            left.append(bit)
            at -= bit.order.length
            continue
        if not at:
            return left, bits[place:]
        return (
            [*left, replace(bit, order=bit.order.first(at))],
            [replace(bit, order=without_first(bit.order, at)), *bits[place + 1 :]],
        )
    return left, []
