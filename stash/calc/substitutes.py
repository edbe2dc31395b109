"""Substitutes: another shade in place of one that is short or no more made, with what that does to sett and need.

Of the same fibres, within 10 % in grist; how near the colour is says CIEDE2000, of screen colours: a hint, since a shade
is judged by eye and in daylight. Sett goes as the square root of the length per weight, because the diameter of a yarn
does (trade rule: new ends per length = old x sqrt(new yd/lb / old yd/lb); common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import isqrt

from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.most import NO_STOCK, Stock
from stash.calc.needs import ShadeNeed, WorkedPlan, work_out
from stash.calc.packing import of_another_shade
from stash.calc.quantity import half_up
from stash.calc.verdict import Verdict, judge
from stash.calc.ways.buying import ToBuy, buying
from stash.calc.ways.near_shade import FARTHEST_OFFERED, Neighbour, nearest
from stash.calc.ways.tried import Tried, try_worked

CALLED_THE_SAME = Fraction(25, 1000)
"""A sett within 2.5 % of another is called the same, as with reeds (calculations.md; common practice, no source)."""
PARTS = 10**12
MOST_TRIED = 60


@dataclass(frozen=True, slots=True)
class Substitute:
    """A plan with `neighbour` under the key instead, at the sett as it is and at the one that the rule gives."""

    key: str
    neighbour: Neighbour
    gap: float | None
    """CIEDE2000; None where one of the two has no colour."""
    as_it_is: Tried
    at_sett: Tried | None
    """None where the sett stays, or where the plan cannot be woven at the new one."""

    @property
    def best(self) -> Tried:
        """At the sett that the rule gives."""
        return self.at_sett or self.as_it_is

    @property
    def looks_near(self) -> bool:
        return self.gap is not None and self.gap <= FARTHEST_OFFERED

    @property
    def serves(self) -> bool:
        """What is free of it serves the whole of what it is to replace, without buffer."""
        return self.best.verdicts[self.key].state != Verdict.SHORT

    @property
    def has_stock(self) -> bool:
        return any(cone.free_mg for cone in self.neighbour.cones)

    @property
    def asked(self) -> ShadeNeed:
        return next(need for need in self.best.worked.needs if need.key == self.key)

    def to_buy(self, put_up_mg: int) -> ToBuy | None:
        """How many put-ups of so much net mass make the whole buffer be there; None where none is wanted."""
        put_ups = {self.key: put_up_mg}
        others = [key for key in self.best.verdicts if key != self.key]
        alone = replace(
            self.best, verdicts={key: found for key, found in self.best.verdicts.items() if key == self.key}
        )
        found = buying(alone, put_ups, others)
        return found.lines[0] if found else None


def sett_by_rule(old: Density, own: Grist, other: Grist, share: Fraction = Fraction(1)) -> Fraction:
    """Ends to the length on which the sett is given, at which a yarn of grist `other` lies as close as one of `own` did.

    Where it is only a `share` of the ends, the rest stays as thick: width goes as the sum of the diameters. Raises
    CalcError.
    """
    if not 0 <= share <= 1:
        raise CalcError("Give a share of the ends from 0 to 100 %.", field="share")
    thicker = _root(own.um_per_mg / other.um_per_mg)
    return old.count / (1 - share + share * thicker)


def sett_for(old: Density, own: Grist, other: Grist, share: Fraction = Fraction(1)) -> Density:
    """The sett by that rule, to a tenth of an end; the old one where the two are called the same. Raises CalcError."""
    new = sett_by_rule(old, own, other, share)
    if abs(new - old.count) <= CALLED_THE_SAME * old.count:
        return old
    return Density(Fraction(max(1, half_up(new * 10)), 10), old.per_um)


def _root(value: Fraction) -> Fraction:
    """Square root to twelve places."""
    return Fraction(isqrt(value.numerator * PARTS * PARTS // value.denominator), PARTS)


def substitutes(before: Tried, key: str, colour: str, neighbours: Sequence[Neighbour]) -> list[Substitute]:
    """The neighbours near enough in grist in place of the shade under `key`, the best first; of the nearest up to 60.

    Near colours come before far ones, and before those that have none; among the near ones those that serve the whole
    come first; then the nearest colour. Raises CalcError where the plan has no such key.
    """
    asked = next((need for need in before.worked.needs if need.key == key), None)
    if asked is None:
        raise CalcError(f"The plan has no shade under {key}.", field="key")
    own = before.stock.get(key, NO_STOCK).grist
    as_planned = _with_another(before, key)
    share = warp_share(before.worked, key)
    # Of every sett once: what is under the other keys does not change with the neighbour.
    as_it_stands = try_worked(as_planned, before.stock, before.usable_um)
    at_setts: dict[Density, Tried | None] = {}
    found = []
    for gap, one in nearest(colour, own, neighbours)[:MOST_TRIED]:
        sett = sett_for(before.plan.sett, own, one.grist, share)
        at_sett = None
        if sett != before.plan.sett:
            if sett not in at_setts:
                at_setts[sett] = _at_sett(as_it_stands, sett)
            base = at_setts[sett]
            at_sett = _of(base, key, one) if base else None
        found.append(Substitute(key, one, gap, _of(as_it_stands, key, one), at_sett))
    return sorted(
        found,
        key=lambda one: (
            not one.looks_near,
            one.looks_near and not one.serves,
            one.gap is None,
            one.gap or 0.0,
            one.neighbour.id,
        ),
    )


def warp_share(worked: WorkedPlan, key: str) -> Fraction:
    """The share of the ends that a shade has; none where it is weft alone."""
    total = sum(worked.ends_by_key.values())
    return Fraction(worked.ends_by_key.get(key, 0), total) if total else Fraction(0)


def _with_another(before: Tried, key: str) -> WorkedPlan:
    """The plan with another shade under the key: a wish for a lot or a cone was one of the old shade."""
    wishes = tuple(wish for wish in before.plan.wishes if wish.key != key or wish.wish == "same")
    needs = []
    for asked in before.worked.needs:
        if asked.key == key:
            need = of_another_shade(asked.need)
            asked = replace(
                asked, wish=need.wish, wish_lot_id=need.wish_lot_id, wish_cone_id=need.wish_cone_id
            )
        needs.append(asked)
    return replace(before.worked, plan=replace(before.plan, wishes=wishes), needs=tuple(needs))


def _of(tried: Tried, key: str, one: Neighbour) -> Tried:
    """The plan judged with what is free of the neighbour under the key."""
    asked = next(need for need in tried.worked.needs if need.key == key)
    plan = tried.plan
    verdict = judge(asked.need, asked.warp_um, asked.pieces, plan.keep_back, one.grist, one.cones)
    return replace(
        tried,
        stock={**tried.stock, key: Stock(one.grist, one.cones)},
        verdicts={**tried.verdicts, key: verdict},
    )


def _at_sett(tried: Tried, sett: Density) -> Tried | None:
    """The sley that was chosen is for the old sett. None where the plan cannot be woven at this one."""
    try:
        worked = work_out(replace(tried.plan, sett=sett, sleyed=None))
    except CalcError:
        return None
    return try_worked(worked, tried.stock, tried.usable_um)
