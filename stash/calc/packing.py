"""Packing: which cones give a shade's warp and weft, in whole ends and whole lots.

The rules, in the order in which they bind:

1. Warp is cut in whole ends, cone by cone: a cone serves floor(free length / warp length) of them, less
   what is kept back for knots. The sum of floors counts, never the floor of the sum.
2. The warp comes from one lot if any lot can serve it: rather from one that serves the weft as well, and
   among those the one with the fewest ends, so that big lots stay whole. Otherwise the fewest lots.
   This binds before the weft: where one lot serves the warp, lots are not mixed to leave more weft.
3. What is left of each cone is weft. It is joined within a lot. The weft comes from one lot if it can: the
   warp's, else the smallest that suffices. Otherwise in whole pieces, the warp's lot first, since the lot
   never changes inside a piece; the sample, too, comes from one lot.
4. Within a lot the fewest cones are opened, and the last is the smallest that suffices.

A cone of unknown lot is a lot of its own. A wish for lots (`stash.calc.lot_wish`) goes before all of these.
All figures are integers; the same input gives the same lines.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.lot_wish import Wish, check_wish, wished

Use = Literal["warp", "weft"]


@dataclass(frozen=True, slots=True)
class Need:
    """What one shade needs, as it is kept: whole ends and whole um, bare and with the buffer."""

    key: str
    ends: int
    ends_buffered: int
    weft_piece_um: int
    weft_piece_buffered_um: int
    weft_sample_um: int
    weft_sample_buffered_um: int
    wish: Wish = "any"
    wish_lot_id: int | None = None
    """The lot that a wish for a lot names."""
    wish_cone_id: int | None = None
    """The cone that a wish for a cone names."""

    def __post_init__(self) -> None:
        check_wish(self.wish, self.wish_lot_id, self.wish_cone_id)
        for bare, buffered in (
            ("ends", "ends_buffered"),
            ("weft_piece_um", "weft_piece_buffered_um"),
            ("weft_sample_um", "weft_sample_buffered_um"),
        ):
            if not 0 <= getattr(self, bare) <= getattr(self, buffered):
                raise CalcError(
                    "A need is not below 0, nor more without its buffer than with it.", field=buffered
                )

    def weft_um(self, pieces: int, *, buffered: bool = False) -> int:
        """Weft for so many pieces and the sample."""
        if buffered:
            return pieces * self.weft_piece_buffered_um + self.weft_sample_buffered_um
        return pieces * self.weft_piece_um + self.weft_sample_um


def without_wishes(need: Need) -> Need:
    """The same need, of any lot."""
    return replace(need, wish="any", wish_lot_id=None, wish_cone_id=None)


def of_another_shade(need: Need) -> Need:
    """The same need of a shade in its place: a wish for a lot or a cone was one of the old shade, `same` stays."""
    return need if need.wish == "same" else without_wishes(need)


@dataclass(frozen=True, slots=True)
class ConeStock:
    """A cone and what of it is free for this project; `lot` None is a lot not known."""

    id: int
    lot: int | None
    free_mg: int

    def __post_init__(self) -> None:
        if self.free_mg < 0:
            raise CalcError("What is free on a cone is not below 0.", field="free_mg")


@dataclass(frozen=True, slots=True)
class Line:
    """So much of one cone for one use; weft has 0 `ends`. The lines on a cone never exceed what is free."""

    cone_id: int
    use: Use
    ends: int
    length_um: int
    mass_mg: int


@dataclass(frozen=True, slots=True)
class LotEnds:
    """How many whole ends one lot could serve; a lot not known is None and has one cone."""

    lot: int | None
    cone_ids: tuple[int, ...]
    ends: int


@dataclass(frozen=True, slots=True)
class Packing:
    lines: tuple[Line, ...]
    ends_served: int
    ends_missing: int
    pieces_served: int
    """Pieces whose weft of this shade is there in full."""
    weft_missing_um: int
    """Least further weft that would do, if more of a lot already begun can be had."""
    weft_missing_new_lot_um: int
    """What a further lot must hold instead, since the lot never changes inside a piece."""
    warp_lots: tuple[int | None, ...]
    """Lots that give warp; None for each lot not known."""
    weft_lots: tuple[int | None, ...]
    weft_other_lot: bool
    """Some weft is of another lot than all of the warp of this shade."""
    lot_ends: tuple[LotEnds, ...]

    @property
    def complete(self) -> bool:
        return not self.ends_missing and not self.weft_missing_um


@dataclass(frozen=True, slots=True)
class Proposal:
    """What to reserve, and what is then still missing of the bare need."""

    buffered: bool
    packing: Packing

    @property
    def lines(self) -> tuple[Line, ...]:
        return self.packing.lines

    @property
    def complete(self) -> bool:
        return self.packing.complete

    @property
    def short_ends(self) -> int:
        return self.packing.ends_missing

    @property
    def short_weft_um(self) -> int:
        return self.packing.weft_missing_um

    @property
    def short_weft_new_lot_um(self) -> int:
        return self.packing.weft_missing_new_lot_um

    @property
    def warp_lots(self) -> tuple[int | None, ...]:
        return self.packing.warp_lots

    @property
    def weft_lots(self) -> tuple[int | None, ...]:
        return self.packing.weft_lots


def pack(
    need: Need,
    warp_um: int,
    pieces: int,
    keep_back: int,
    grist: Grist,
    cones: Sequence[ConeStock],
    buffered: bool,
) -> Packing:
    """Serve the need from the cones, as far as they go; `warp_um` is the length of one end."""
    packings = []
    for group in wished(need.wish, need.wish_lot_id, need.wish_cone_id, cones):
        lots = _lots(warp_um, keep_back, grist, group)
        packings.append(_packing(lots, _chosen(lots, need, warp_um, pieces, buffered), warp_um, grist))
    return min(packings, key=lambda packing: _lacking(packing, warp_um))


def serves(
    need: Need, warp_um: int, pieces: int, keep_back: int, grist: Grist, cones: Sequence[ConeStock]
) -> bool:
    """Whether the cones serve the bare need: `pack(...).complete` without the lines."""
    return any(
        _chosen(_lots(warp_um, keep_back, grist, group), need, warp_um, pieces, False).complete
        for group in wished(need.wish, need.wish_lot_id, need.wish_cone_id, cones)
    )


def propose(
    need: Need, warp_um: int, pieces: int, keep_back: int, grist: Grist, cones: Sequence[ConeStock]
) -> Proposal:
    """The buffered need if it is there, else the bare need, else as much of the bare need as is there.

    A buffer is no reason to mix: where the bare warp comes from fewer lots than the buffered one would, the
    bare need is proposed.
    """
    proposals = [
        _proposed(need, warp_um, pieces, keep_back, grist, group)
        for group in wished(need.wish, need.wish_lot_id, need.wish_cone_id, cones)
    ]
    if len(proposals) == 1:
        return proposals[0]
    return min(
        proposals,
        key=lambda found: (
            *_lacking(found.packing, warp_um)[:1],
            not found.buffered,
            *_lacking(found.packing, warp_um)[1:],
        ),
    )


def _lacking(packing: Packing, warp_um: int) -> tuple[int, int]:
    """How much is missing, then how many ends its lots hold: big lots stay whole."""
    missing = packing.ends_missing * warp_um + packing.weft_missing_um
    return missing, sum(lot.ends for lot in packing.lot_ends)


def _proposed(
    need: Need, warp_um: int, pieces: int, keep_back: int, grist: Grist, cones: Sequence[ConeStock]
) -> Proposal:
    lots = _lots(warp_um, keep_back, grist, cones)
    buffered = _chosen(lots, need, warp_um, pieces, True)
    choice = buffered
    if not buffered.complete or len(buffered.warp) > 1:
        bare = _chosen(lots, need, warp_um, pieces, False)
        if not buffered.complete or (bare.complete and len(bare.warp) < len(buffered.warp)):
            choice = bare
    return Proposal(choice is buffered, _packing(lots, choice, warp_um, grist))


@dataclass(slots=True)
class _Lot:
    """A lot while it is being packed; `cones` are (id, length in um, whole ends)."""

    lot: int | None
    cones: list[tuple[int, int, int]]
    length_um: int
    ends: int


@dataclass(slots=True)
class _WeftShare:
    """Weft in um by lot (its place in the list), the pieces that are whole, and what is missing: of a lot
    that is begun, or of a further one."""

    by_lot: dict[int, int]
    pieces: int
    missing_um: int = 0
    missing_new_lot_um: int = 0


@dataclass(slots=True)
class _Choice:
    """Ends by lot (its place in the list) and the weft that goes with them."""

    warp: dict[int, int]
    ends_missing: int
    weft: _WeftShare

    @property
    def complete(self) -> bool:
        return not self.ends_missing and not self.weft.missing_um


def _lots(warp_um: int, keep_back: int, grist: Grist, cones: Sequence[ConeStock]) -> list[_Lot]:
    if warp_um < 1:
        raise CalcError("The warp must be longer than nothing.", field="warp_um")
    lots: list[_Lot] = []
    known: dict[int, _Lot] = {}
    for cone in sorted(cones, key=lambda cone: cone.id):
        length = cone.free_mg * grist.length_um // grist.mass_mg
        ends = max(0, length // warp_um - keep_back)
        lot = None if cone.lot is None else known.get(cone.lot)
        if lot is None:
            lot = _Lot(cone.lot, [], 0, 0)
            lots.append(lot)
            if cone.lot is not None:
                known[cone.lot] = lot
        lot.cones.append((cone.id, length, ends))
        lot.length_um += length
        lot.ends += ends
    return lots


def _packing(lots: list[_Lot], choice: _Choice, warp_um: int, grist: Grist) -> Packing:
    warp, weft = choice.warp, choice.weft
    return Packing(
        lines=_lines(lots, warp, weft.by_lot, warp_um, grist),
        ends_served=sum(warp.values()),
        ends_missing=choice.ends_missing,
        pieces_served=weft.pieces,
        weft_missing_um=weft.missing_um,
        weft_missing_new_lot_um=weft.missing_new_lot_um,
        warp_lots=tuple(lots[place].lot for place in warp),
        weft_lots=tuple(lots[place].lot for place in weft.by_lot),
        weft_other_lot=bool(warp) and not weft.by_lot.keys() <= warp.keys(),
        lot_ends=tuple(LotEnds(lot.lot, tuple(cone[0] for cone in lot.cones), lot.ends) for lot in lots),
    )


def _chosen(lots: list[_Lot], need: Need, warp_um: int, pieces: int, buffered: bool) -> _Choice:
    """Of the ways to take the warp the first of which one lot serves the weft too, else the one with most."""
    ends = need.ends_buffered if buffered else need.ends
    piece = need.weft_piece_buffered_um if buffered else need.weft_piece_um
    sample = need.weft_sample_buffered_um if buffered else need.weft_sample_um
    total = pieces * piece + sample
    choices = list(_warp_choices([lot.ends for lot in lots], ends))
    for warp in choices:
        for place, taken in warp.items():
            if lots[place].length_um - taken * warp_um >= total:
                weft = _WeftShare({place: total} if total else {}, pieces)
                return _Choice(warp, ends - sum(warp.values()), weft)
    warp, weft = _weft_from_elsewhere(lots, choices, warp_um, pieces, piece, sample)
    return _Choice(warp, ends - sum(warp.values()), weft)


def _weft_from_elsewhere(
    lots: list[_Lot], choices: list[dict[int, int]], warp_um: int, pieces: int, piece_um: int, sample_um: int
) -> tuple[dict[int, int], _WeftShare]:
    """The choice of warp lots with which all lots together give most weft.

    Only choices after which the lots still hold enough whole pieces are divided out, until one comes out.
    """
    wanted = pieces if piece_um else 0
    lengths = [lot.length_um for lot in lots]

    def held_after(warp: dict[int, int]) -> int:
        if not wanted:
            return 0
        lost = sum(
            lengths[place] // piece_um - (lengths[place] - ends * warp_um) // piece_um
            for place, ends in warp.items()
        )
        return min(wanted, held - lost)

    held = sum(length // piece_um for length in lengths) if piece_um else 0
    ranked = sorted(((held_after(warp), warp) for warp in choices), key=lambda pair: -pair[0])
    best: tuple[dict[int, int], _WeftShare] | None = None
    for holds, warp in ranked:
        if best is not None and holds < wanted:
            break
        rests = list(lengths)
        for place, ends in warp.items():
            rests[place] -= ends * warp_um
        weft = _weft_share(rests, list(warp), pieces, piece_um, sample_um)
        if best is None or weft.missing_um < best[1].missing_um:
            best = warp, weft
        if not weft.missing_um:
            break
    assert best is not None, "there is always a choice, if only to take all that is there"
    return best


def _warp_choices(capacities: list[int], ends: int) -> Iterator[dict[int, int]]:
    """Ways to take so many ends from the fewest lots: the largest lots, and any that suffices as the last.

    Each is {place of the lot: ends from it}, the smallest last lot first. Where all lots together do not
    suffice, the one way is to take everything.
    """
    by_size = sorted(
        (place for place, most in enumerate(capacities) if most), key=lambda place: -capacities[place]
    )
    whole: dict[int, int] = {}
    left = ends
    for at, place in enumerate(by_size):
        if capacities[place] >= left:
            for last in reversed(by_size[at:]):
                if left and capacities[last] >= left:
                    yield whole | {last: left}
            break
        whole[place] = capacities[place]
        left -= capacities[place]
    else:
        yield whole
    if not ends:
        yield {}


def _weft_share(
    rests: list[int], warp_places: list[int], pieces: int, piece_um: int, sample_um: int
) -> _WeftShare:
    """Divide the weft among lots of which so much is left, where none that gives warp serves it all."""
    total = pieces * piece_um + sample_um
    enough = [place for place, rest in enumerate(rests) if rest >= total]
    if not total:
        return _WeftShare({}, pieces)
    if enough:
        return _WeftShare({min(enough, key=rests.__getitem__): total}, pieces)

    rests = list(rests)
    share: dict[int, int] = {}
    sample_place = _sample_place(rests, warp_places, pieces, piece_um, sample_um)
    if sample_place is not None:
        share[sample_place] = sample_um
        rests[sample_place] -= sample_um
    left = pieces if piece_um else 0
    if piece_um:
        holds = [rest // piece_um for rest in rests]
        others = [place for place in range(len(rests)) if place not in warp_places]
        for places in (warp_places, others):
            for place, taken in _fewest([(holds[place], place) for place in places], left):
                share[place] = share.get(place, 0) + taken * piece_um
                rests[place] -= taken * piece_um
                left -= taken
    missing = missing_new_lot = left * piece_um + (sample_um if sample_um and sample_place is None else 0)
    if missing and rests:
        begun = max(range(len(rests)), key=rests.__getitem__)
        part = min(rests[begun], missing)
        if part:
            share[begun] = share.get(begun, 0) + part
            missing -= part
    return _WeftShare(share, pieces - left, missing, missing_new_lot)


def _sample_place(
    rests: list[int], warp_places: list[int], pieces: int, piece_um: int, sample_um: int
) -> int | None:
    """The lot for the sample: the first that leaves all pieces possible, else that which costs fewest."""
    if not sample_um:
        return None
    order = warp_places + sorted(
        (place for place in range(len(rests)) if place not in warp_places), key=lambda p: -rests[p]
    )
    able = [place for place in order if rests[place] >= sample_um]
    if not able:
        return None
    spare = sum(rest // piece_um for rest in rests) - pieces
    cost = {place: rests[place] // piece_um - (rests[place] - sample_um) // piece_um for place in able}
    return next((place for place in able if cost[place] <= spare), min(able, key=cost.__getitem__))


def _fewest(capacities: list[tuple[int, int]], amount: int) -> Iterator[tuple[int, int]]:
    """(place, taken) from the fewest (capacity, place): largest first, the last the smallest to suffice."""
    by_size = sorted(capacities, key=lambda pair: (-pair[0], pair[1]))
    left = amount
    for at, (most, place) in enumerate(by_size):
        if not left or not most:
            return
        if most >= left:
            for last_most, last_place in reversed(by_size[at:]):
                if last_most >= left:
                    yield last_place, left
                    return
        yield place, most
        left -= most


def _lines(
    lots: list[_Lot], warp: dict[int, int], weft: dict[int, int], warp_um: int, grist: Grist
) -> tuple[Line, ...]:
    warp_lines: list[Line] = []
    weft_lines: list[Line] = []
    cut: dict[int, int] = {}
    for place, ends in warp.items():
        cones = lots[place].cones
        for at, taken in _fewest([(cone[2], at) for at, cone in enumerate(cones)], ends):
            length = taken * warp_um
            cut[cones[at][0]] = length
            warp_lines.append(Line(cones[at][0], "warp", taken, length, _mass_up(length, grist)))
    for place, total in weft.items():
        cones = lots[place].cones
        left = total
        opened = [(cone[1] - cut[cone[0]], at) for at, cone in enumerate(cones) if cone[0] in cut]
        closed = [(cone[1], at) for at, cone in enumerate(cones) if cone[0] not in cut]
        for group in (opened, closed):
            for at, taken in _fewest(group, left):
                cone_id = cones[at][0]
                before = cut.get(cone_id, 0)
                mass = _mass_up(before + taken, grist) - _mass_up(before, grist)
                weft_lines.append(Line(cone_id, "weft", 0, taken, mass))
                left -= taken
    return tuple(warp_lines + weft_lines)


def _mass_up(length_um: int, grist: Grist) -> int:
    return -(-length_um * grist.mass_mg // grist.length_um)
