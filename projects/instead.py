"""Substitutes in words: what may stand for a shade of a plan, and what that does to sett, need and verdict."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import F, Q

from projects.around import Around
from projects.judging import ShadeLine
from projects.models import Project, ProjectShade
from projects.near_words import finer, how_near
from projects.services.trials import Change
from projects.ways import judged_of
from projects.wish_words import wished_by_shade
from projects.wording import counted, flag, one_line
from stash.calc.colour import apart
from stash.calc.density import Density
from stash.calc.grist import Grist
from stash.calc.substitutes import Substitute, sett_by_rule, sett_for, substitutes, warp_share
from stash.calc.ways.near_shade import Neighbour, near_in_grist
from stash.calc.ways.tried import Tried, Way, try_plan
from stash.calc.writing import Measures, decimal
from stash.models import FibreShare, PutUp, Shade

OFFERED = 6
NEW_SETT, OLD_SETT = "new", "old"


@dataclass(frozen=True, slots=True)
class NeedWords:
    """What one shade of the plan then needs; `before` is empty where it was not needed."""

    name: str
    colour: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Offer:
    """One substitute as a page shows it."""

    shade: Shade
    near: str
    gap: str
    grist: str
    free: str
    flag_class: str
    flag_text: str
    verdict: str
    """Of the whole plan with it."""
    serves: bool
    sett: str
    needs: Sequence[NeedWords]
    buy: Sequence[str]
    stretch: bool
    choices: Sequence[tuple[str, str]]
    """What can be tried beside the plan: the word sent, and what the button says."""


@dataclass(frozen=True, slots=True)
class Instead:
    """What may stand for a shade: on the shelf, and not on the shelf but still made."""

    on_shelf: Sequence[Offer]
    known: Sequence[Offer]
    found: Sequence[Substitute]


def instead_of(project: Project, key: str, near: Around, measures: Measures) -> Instead:
    """For the shade under `key`; one query beyond those of `near`. Raises CalcError for a key that the plan has not."""
    facts = near.facts
    before = try_plan(project.plan, facts.stock, facts.usable_um)
    shade = near.shades[key]
    used = {one.pk for one in near.shades.values()}
    cones = {one.id: one.cones for one in facts.neighbours.get(key, ())}
    neighbours = [
        Neighbour(pk, other.colour, other.yarn.grist, cones.get(pk, ()))
        for pk, other in near.others.items()
        if pk not in used and shade.yarn_id in other.alike_to
    ]
    found = substitutes(before, key, shade.colour, neighbours)
    on_shelf = [one for one in found if one.has_stock][:OFFERED]
    known = [one for one in found if not one.has_stock and not near.others[one.neighbour.id].no_more_on][
        :OFFERED
    ]
    sold = put_ups_of(near.others[one.neighbour.id] for one in (*on_shelf, *known))
    teller = _Teller(project, key, near, before, sold, measures)
    return Instead([teller.offer(one) for one in on_shelf], [teller.offer(one) for one in known], found)


def change_to(
    project: Project, key: str, near: Around, found: Instead, shade_id: int, sett: str
) -> Change | None:
    """The plan with that shade in place of the one under `key`; None where it is no substitute any more."""
    one = next((one for one in found.found if one.neighbour.id == shade_id), None)
    if one is None or sett not in (NEW_SETT, OLD_SETT) or (sett == NEW_SETT and one.at_sett is None):
        return None
    tried = one.at_sett if sett == NEW_SETT and one.at_sett else one.as_it_is
    shades = {at: shade.pk for at, shade in near.shades.items()} | {key: shade_id}
    return Change(f"{near.others[shade_id].name} for {near.shades[key].name}", tried.plan, shades, {})


Sold = Mapping[int, Sequence[PutUp]]
"""Put-ups by shade."""


def put_ups_of(shades: Iterable[Shade]) -> Sold:
    """What each shade is sold in and by whom, cheapest first where prices are known; one query."""
    listed = list(shades)
    by_yarn: dict[int, list[PutUp]] = defaultdict(list)
    rows = (
        PutUp.objects.sold()
        .filter(yarn__in={shade.yarn_id for shade in listed})
        .filter(Q(shade=None) | Q(shade__in=listed))
        .select_related("supplier")
        .order_by(F("price_cents").asc(nulls_last=True), "supplier__name", "mass_mg", "pk")
    )
    for row in rows:
        by_yarn[row.yarn_id].append(row)
    return {
        shade.pk: [row for row in by_yarn[shade.yarn_id] if row.shade_id in (None, shade.pk)]
        for shade in listed
    }


class _Teller:
    def __init__(
        self, project: Project, key: str, near: Around, before: Tried, sold: Sold, measures: Measures
    ) -> None:
        self.project, self.key, self.near, self.before, self.sold = project, key, near, before, sold
        self.measures = measures
        self.wished = wished_by_shade(project.shades.all())

    def offer(self, one: Substitute) -> Offer:
        other, best = self.near.others[one.neighbour.id], one.best
        shades = dict(self.near.shades) | {self.key: other}
        judged = judged_of(best, shades, self.wished)
        line = next(line for line in judged.lines if line.key == self.key)
        verdict = one_line(judged, self.measures)
        if not best.fits:
            verdict = f"Wider than the loom takes. {verdict}"
        flag_class, flag_text = flag(line, self.measures)
        if not one.has_stock:
            flag_class, flag_text = "tight", "none on the shelf"
        free = self.measures.long_length(line.verdict.free_um, "down")
        return Offer(
            shade=other,
            near=how_near(one.gap),
            gap="" if one.gap is None else f"{one.gap:.1f} by CIEDE2000",
            grist=finer(self.near.facts.stock[self.key].grist, one.neighbour.grist, self.measures),
            free=f"{free} free" if one.has_stock else "",
            flag_class=flag_class,
            flag_text=flag_text,
            verdict=verdict,
            serves=one.serves,
            sett=self.sett(one),
            needs=self.needs(one, shades),
            buy=self.buy(one, other, line),
            stretch=self.mixes(other),
            choices=self.choices(one),
        )

    def sett(self, one: Substitute) -> str:
        plan, worked, density = self.before.plan, one.best.worked, self.measures.density
        if one.at_sett is None:
            stays = f"The sett stays at {density(plan.sett)}"
            share = warp_share(self.before.worked, self.key)
            own, other = self.near.facts.stock[self.key].grist, one.neighbour.grist
            rule = sett_for(plan.sett, own, other, share)
            if rule != plan.sett:
                return f"{stays}: this plan cannot be woven at {density(rule)}."
            if not share:
                return f"{stays}: it is in the weft alone."
            exact = sett_by_rule(plan.sett, own, other, share)
            if exact != plan.sett.count:
                return f"{stays}: by the rule {decimal(exact, 1)}, which is called the same."
            return f"{stays}."
        words = f"Sett {density(one.at_sett.plan.sett)} instead of {density(plan.sett)}"
        ends, were = worked.width.ends, self.before.worked.width.ends
        if ends != were:
            words += f": {counted(ends, 'end')} instead of {were:,}"
        else:
            finished = self.measures.short_length(worked.width.finished_um)
            words += f": {counted(ends, 'end')} as before, {finished} wide when finished"
        return f"{words}."

    def needs(self, one: Substitute, shades: Mapping[str, Shade]) -> list[NeedWords]:
        """Length and weight of every shade whose need changes, the new one first."""
        found = []
        for effect in sorted(Way(self.before, one.best).effects, key=lambda effect: effect.key != self.key):
            if effect.key not in shades or (effect.key != self.key and effect.before_um == effect.after_um):
                continue
            shade, was = shades[effect.key], self.near.shades[effect.key]
            before = self.amount(effect.before_um, self.before.stock[effect.key].grist)
            if shade is not was:
                before = f"{before} of {was.name}"
            after = self.amount(effect.after_um, one.best.stock[effect.key].grist)
            found.append(NeedWords(shade.name, shade.colour, before, after))
        return found

    def amount(self, um: int, grist: Grist) -> str:
        mass = self.measures.mass(grist.mass_mg_of(um), "up")
        return f"{self.measures.long_length(um, 'up')} ({mass})"

    def buy(self, one: Substitute, other: Shade, line: ShadeLine) -> list[str]:
        """What would have to be bought of it, whole buffer and all: a line to a put-up that is known."""
        if one.serves or other.no_more_on:
            return []
        lines = []
        for put_up in self.sold.get(other.pk, ())[:3]:
            bought = one.to_buy(put_up.mass_mg)
            if bought is not None:
                number = max(bought.number, put_up.least)
                lines.append(f"{number:,} × {self.measures.mass(put_up.mass_mg)} from {put_up.supplier.name}")
        if not lines:
            missing = line.grist.mass_mg_of(max(0, line.buffered_um - line.verdict.free_um))
            lines.append(
                f"{self.measures.mass(missing, 'up')}; in what it is sold and by whom is not known here"
            )
        return lines

    def mixes(self, other: Shade) -> bool:
        """Would the warp be of more than one yarn, this one among them?"""
        ends = self.before.worked.ends_by_key
        if not ends.get(self.key):
            return False
        rest = {self.near.shades[key].yarn_id for key in ends if key != self.key and key in self.near.shades}
        return bool(rest - {other.yarn_id})

    def choices(self, one: Substitute) -> list[tuple[str, str]]:
        density = self.measures.density
        if one.at_sett is None:
            return [(OLD_SETT, "Try it beside")]
        return [
            (NEW_SETT, f"Try it at {density(one.at_sett.plan.sett)}"),
            (OLD_SETT, f"Try it at {density(self.before.plan.sett)}"),
        ]


# Of a shade, whatever is planned with it


@dataclass(frozen=True, slots=True)
class Alike:
    """A shade that may stand for another, without a plan: what it is, what there is of it, and what it does to a sett."""

    shade: Shade
    near: str
    gap: str
    grist: str
    free: str
    wanted: str
    """What the plans that want the old shade would take of this one."""
    suffices: bool
    sett: str
    buy: Sequence[str]


def alike_to(shade: Shade, wanted_um: int, measures: Measures) -> tuple[list[Alike], list[Alike]]:
    """On the shelf, and known but not there; three queries. `wanted_um` is what open plans need of the old shade."""
    own = shade.yarn.grist
    found = []
    for other in _same_fibres(shade):
        gap = apart(shade.colour, other.colour) if shade.colour and other.colour else None
        found.append((gap, other))
    found.sort(key=lambda pair: (pair[0] is None, pair[0] or 0.0, pair[1].pk))
    there = [pair for pair in found if pair[1].free_mg][:OFFERED]
    known = [pair for pair in found if not pair[1].free_mg and not pair[1].no_more_on][:OFFERED]
    sold = put_ups_of(other for _, other in (*there, *known))

    def told(gap: float | None, other: Shade) -> Alike:
        grist = other.yarn.grist
        free_um = int(grist.length_um_of(other.free_mg))
        return Alike(
            shade=other,
            near=how_near(gap),
            gap="" if gap is None else f"{gap:.1f} by CIEDE2000",
            grist=finer(own, grist, measures),
            free=f"{measures.long_length(free_um, 'down')} ({measures.mass(other.free_mg, 'down')}) free"
            if other.free_mg
            else "none on the shelf",
            wanted=f"{measures.long_length(wanted_um, 'up')} ({measures.mass(grist.mass_mg_of(wanted_um), 'up')})"
            if wanted_um
            else "",
            suffices=bool(wanted_um) and free_um >= wanted_um,
            sett=_sett_factor(own, grist, measures),
            buy=[
                f"{measures.mass(row.mass_mg)} from {row.supplier.name}" for row in sold.get(other.pk, ())[:3]
            ],
        )

    return [told(*pair) for pair in there], [told(*pair) for pair in known]


def _sett_factor(own: Grist, other: Grist, measures: Measures) -> str:
    """A sett of 20 becomes 20.9, on whatever length it is given."""
    twenty = Density(Fraction(20))
    new = sett_for(twenty, own, other)
    return "the sett stays" if new == twenty else f"20 ends become {float(new.count):.1f}"


def _same_fibres(shade: Shade) -> list[Shade]:
    """Live shades of the same yarn or of one of the same fibres and nearly the same grist, with their stock."""
    fibres: dict[int, set[tuple[str, int]]] = defaultdict(set)
    figures: dict[int, Grist] = {shade.yarn_id: shade.yarn.grist}
    for yarn_id, fibre, percent, um, mg in FibreShare.objects.filter(yarn__retired_at=None).values_list(
        "yarn_id", "fibre", "percent", "yarn__grist_um", "yarn__grist_mg"
    ):
        fibres[yarn_id].add((fibre, percent))
        figures[yarn_id] = Grist(um, mg)
    own = shade.yarn.grist
    yarns = [
        yarn_id
        for yarn_id, figure in figures.items()
        if yarn_id == shade.yarn_id
        or (fibres[yarn_id] and fibres[yarn_id] == fibres[shade.yarn_id] and near_in_grist(own, figure))
    ]
    others = Shade.objects.live().filter(yarn__in=yarns).exclude(pk=shade.pk)
    return list(others.with_stock().select_related("yarn"))


def wanting(shade: Shade) -> list[ProjectShade]:
    """The rows of projects still to be woven that use it; who needs it first comes first. One query."""
    return list(
        ProjectShade.objects.filter(shade=shade, project__in=Project.objects.to_weave())
        .select_related("project")
        .order_by(F("project__need_on").asc(nulls_last=True), "project__rank", "project_id")
    )
