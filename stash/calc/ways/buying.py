"""Buying: how many whole put-ups, of a lot that is matched or of a new one."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil

from stash.calc.most import NO_STOCK, Stock
from stash.calc.needs import ShadeNeed
from stash.calc.packing import ConeStock
from stash.calc.reorder.put_ups import MOST_NUMBER, Counted, Offered, count
from stash.calc.verdict import ShadeVerdict, Verdict, judge
from stash.calc.ways.search import least
from stash.calc.ways.tried import Tried, Way

MOST_PUT_UPS = 100_000
GRAM_MG = 1_000

_BOUGHT = -1
"""Cones and lots that stand nowhere yet count from here downwards, so that they meet none of the shelf's."""


@dataclass(frozen=True, slots=True)
class ToBuy:
    """What to buy of one shade so that its whole buffer is there."""

    key: str
    put_up_mg: int
    """Net mass of one put-up; where none is known a gram, so that the numbers are grams."""
    known: bool
    """Is the put-up known?"""
    number: int
    """Of one new lot: so many that the warp need not mix lots."""
    matched: int | None
    """If the lot the warp already comes from can be had: so many. None where that spares nothing."""
    matched_lot: int | None
    counted: Counted | None = None
    """The put-up of a supplier that it is, with how its number came about; None where nobody is known to sell it."""


@dataclass(frozen=True, slots=True)
class Buying(Way):
    """After new put-ups of every shade that is short (where none is: that lacks its buffer) have come."""

    lines: tuple[ToBuy, ...]


def buying(
    before: Tried,
    put_ups: Mapping[str, int],
    no_more: Collection[str] = (),
    sold: Mapping[str, Sequence[Offered]] | None = None,
    one_more: Collection[str] = (),
) -> Buying | None:
    """`put_ups` has the net mass in mg of what a shade's yarn is sold in, by key; the keys of `no_more` are of shades
    that are no more made, so that none can be bought. `sold` goes before it: what suppliers sell a shade in, of which
    the cheapest in all is taken, by their least numbers and price breaks; of `one_more` one beyond the need.
    None where nothing is missing."""
    wanting = before.short or tuple(
        found for found in before.verdicts.values() if found.state != Verdict.ENOUGH
    )
    stock, verdicts = dict(before.stock), dict(before.verdicts)
    lines = []
    for found in wanting:
        if found.key in no_more:
            continue
        asked = next(need for need in before.worked.needs if need.key == found.key)
        shelf = before.stock.get(found.key, NO_STOCK)
        offers = (sold or {}).get(found.key, ())
        line = _cheapest(before, asked, found, shelf, offers, found.key in one_more) or _to_buy(
            before, asked, found, shelf, put_ups.get(found.key)
        )
        if line is None:
            continue
        lines.append(line)
        lot = _lot_of_bought(asked)
        stock[found.key] = _with(shelf, line.number, line.put_up_mg, lot, as_one=not line.known)
        verdicts[found.key] = _judged(before, asked, stock[found.key])
    if not lines:
        return None
    return Buying(before, replace(before, stock=stock, verdicts=verdicts), tuple(lines))


def _cheapest(
    before: Tried,
    asked: ShadeNeed,
    found: ShadeVerdict,
    shelf: Stock,
    offers: Sequence[Offered],
    one_more: bool,
) -> ToBuy | None:
    """Of what costs the same the lightest; what has no price comes last."""
    sizes = {offer.mass_mg: _to_buy(before, asked, found, shelf, offer.mass_mg) for offer in offers}
    lines = []
    for offer in offers:
        line = sizes[offer.mass_mg]
        if line is not None and line.number <= MOST_NUMBER:
            lines.append((line, count(offer, line.number, one_more=one_more)))
    if not lines:
        return None
    line, counted = min(
        lines,
        key=lambda pair: (
            pair[1].cost_cents is None,
            pair[1].cost_cents or 0,
            pair[1].mass_mg,
            pair[1].offered.id,
        ),
    )
    matched, lot = line.matched, line.matched_lot
    if matched is not None and asked.wish_lot_id is None:
        matched = max(matched, counted.offered.least)
        if matched >= counted.number:
            matched, lot = None, None
    return replace(line, number=counted.number, matched=matched, matched_lot=lot, counted=counted)


def _to_buy(
    before: Tried, asked: ShadeNeed, found: ShadeVerdict, shelf: Stock, put_up_mg: int | None
) -> ToBuy | None:
    size = put_up_mg or GRAM_MG
    # No more than weaves it all anew: an end is cut whole from each put-up, so half of one may be left over.
    most = min(MOST_PUT_UPS, 2 + 2 * ceil(_whole_mg(asked, shelf) / Fraction(size)) + asked.ends_buffered)

    def serves(number: int, lot: int | None) -> bool:
        stock = _with(shelf, number, size, lot, as_one=put_up_mg is None)
        verdict = _judged(before, asked, stock)
        return verdict.state == Verdict.ENOUGH and not verdict.lots_mixed

    number = least(lambda number: serves(number, _lot_of_bought(asked)), most)
    if number is None:
        return None
    if asked.wish_lot_id is not None:
        return ToBuy(asked.key, size, put_up_mg is not None, number, number, asked.wish_lot_id)
    lots = [lot.lot for lot in found.proposal.packing.lot_ends if lot.lot is not None]
    main = next((lot for lot in found.proposal.warp_lots if lot is not None), next(iter(lots), None))
    matched = None
    if main is not None:
        matched = least(lambda number: serves(number, main), number)
    if matched is None or matched >= number:
        matched, main = None, None
    return ToBuy(asked.key, size, put_up_mg is not None, number, matched, main)


def _lot_of_bought(asked: ShadeNeed) -> int:
    """A new lot, unless the plan wishes for one: then no other will do. For a very cone nothing can be bought."""
    return _BOUGHT if asked.wish_lot_id is None else asked.wish_lot_id


def _whole_mg(asked: ShadeNeed, shelf: Stock) -> Fraction:
    return shelf.grist.mass_mg_of(asked.buffered_total_um)


def _with(shelf: Stock, number: int, size_mg: int, lot: int | None, *, as_one: bool) -> Stock:
    new = (
        [ConeStock(_BOUGHT, lot, number * size_mg)]
        if as_one
        else [ConeStock(_BOUGHT - at, lot, size_mg) for at in range(number)]
    )
    return Stock(shelf.grist, [*shelf.cones, *new])


def _judged(before: Tried, asked: ShadeNeed, shelf: Stock) -> ShadeVerdict:
    plan = before.plan
    return judge(asked.need, asked.warp_um, asked.pieces, plan.keep_back, shelf.grist, shelf.cones)
