"""Ways out in words, and as changes of the plan that can be tried."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format

from projects.around import Around, Dressed
from projects.judging import Judged, ShadeLine
from projects.models import Dressing, Project
from projects.near_words import finer, how_near
from projects.services.trials import Change
from projects.wish_words import wished_by_shade
from projects.wording import counted, lot_word, one_line, together
from stash.calc.errors import CalcError
from stash.calc.reorder.put_ups import Counted
from stash.calc.turned_weave import turned_weave
from stash.calc.verdict import Verdict
from stash.calc.ways.buying import Buying, ToBuy
from stash.calc.ways.fewer_pieces import FewerPieces
from stash.calc.ways.fewer_repeats import FewerRepeats
from stash.calc.ways.fewer_warps import FewerWarps
from stash.calc.ways.leaner import Leaner
from stash.calc.ways.less_waste import LessWaste
from stash.calc.ways.moving import Moving
from stash.calc.ways.near_shade import NearShade
from stash.calc.ways.other_lots import LotInsidePiece, TwoWarps
from stash.calc.ways.tried import Tried, Way
from stash.calc.ways.turned import Turned
from stash.calc.ways.ways_out import WaysOut, ways_out
from stash.calc.ways.without_wish import WithoutWish
from stash.calc.width import work_width
from stash.calc.writing import Measures
from stash.models import Shade
from stash.tables.orders import amount


@dataclass(frozen=True, slots=True)
class ShadeEffect:
    """What a way does to one shade, in words; `before` is empty for a shade that comes in, `after` for one that
    goes."""

    name: str
    colour: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Told:
    """One way as a page shows it."""

    token: str
    """Names the way when it is asked for; empty where there is no plan to try."""
    name: str
    effect: str
    hint: str
    state: str
    verdict: str
    cures: bool
    effects: Sequence[ShadeEffect]
    colours: Sequence[str] = ()
    """Of the shade that is short and of the one in its place."""
    move_from: int | None = None
    """The claim whose reservation would move."""
    order: Sequence[tuple[str, int]] = ()
    """Shades to put on an order, by name and key."""


@dataclass(frozen=True, slots=True)
class Ways:
    found: WaysOut
    told: Sequence[Told]

    @property
    def curing(self) -> list[Told]:
        return [told for told in self.told if told.cures]

    @property
    def helping(self) -> list[Told]:
        return [told for told in self.told if not told.cures]


def ways_of(project: Project, near: Around, measures: Measures) -> Ways:
    """Raises CalcError where the plan itself cannot be woven, which no saved plan is."""
    found = ways_out(project.plan, near.facts)
    if project.open_keys:
        return Ways(WaysOut(found.before, ()), ())
    return Ways(found, [_Teller(project, near, measures).tell(way) for way in found.ways])


def wants_a_way(project: Project, judged: Judged) -> bool:
    """Of a saved plan: something is short, tight or mixed, or it is wider than its loom."""
    if judged.open_keys:
        return False  # nothing can be said of a shade that is not named
    if judged.lines and (judged.state != Verdict.ENOUGH or judged.mixed):
        return True
    loom = project.loom
    return loom is not None and work_width(project.plan).in_reed_um > loom.weaving_width_um


def judged_of(tried: Tried, shades: Mapping[str, Any], wished: Mapping[int, str] | None = None) -> Judged:
    """What calc tried, as the pages' sentences take it; `wished` has the words of the wishes for lots by the keys of
    the shades."""
    lines = [
        ShadeLine(
            need.key,
            shades[need.key],
            tried.stock[need.key].grist,
            need.need,
            tried.stock[need.key].cones,
            tried.verdicts[need.key],
            need.warp_um,
            need.pieces,
            need.picks,
            (wished or {}).get(shades[need.key].pk, "") if need.wish != "any" else "",
        )
        for need in tried.worked.needs
        if need.key in shades and need.key in tried.stock
    ]
    return Judged(tuple(lines), tried.worked.length.warp_um, tried.all_pieces)


def token_of(way: Way) -> str:
    """A name by which the same way is found again when it is asked for; "" where there is no plan to try."""
    match way:
        case FewerPieces():
            return f"pieces-{way.after.plan.pieces}"
        case FewerWarps():
            return f"warps-{way.after.plan.warps}"
        case FewerRepeats():
            return f"repeats-{way.repeats}"
        case LessWaste():
            return f"waste-{way.key}"
        case Leaner():
            return f"without-{'-'.join(way.without)}"
        case Turned():
            return "turned"
        case WithoutWish():
            return f"any-lot-{'-'.join(way.keys)}"
        case NearShade():
            return f"{'weft' if way.weft_key else 'shade'}-{way.key}-{way.neighbour.id}"
    return ""


def change_by(token: str, found: WaysOut, project: Project, near: Around) -> Change | None:
    """The changed plan of the way of that name; None if it is no way out any more."""
    way = next((way for way in found.ways if token and token_of(way) == token), None)
    if way is None:
        return None
    shades = {key: shade.pk for key, shade in near.shades.items()}
    fields: dict[str, object] = {}
    any_lot: tuple[str, ...] = ()
    match way:
        case WithoutWish():
            any_lot = way.keys
            called = f"{together(near.shades[key].name for key in any_lot)} of any lot"
        case FewerPieces():
            called = f"{way.after.plan.pieces:,} {project.piece_name}"
        case FewerWarps():
            called = counted(way.after.plan.warps, "warp")
            fields = _fewer_kits(project, way.after.plan.warps)
        case FewerRepeats():
            called = counted(way.repeats, "repeat")
        case LessWaste():
            dressed = near.wastes[way.key]
            called = _dressed_short(dressed)
            fields = {"dressing": dressed.dressing}
            if dressed.loom:
                fields["loom_id"] = dressed.loom.pk
        case Leaner():
            called = f"without {together(way.without)}"
        case Turned():
            called = "turned"
            fields = _turned_structure(project) if way.orders_turned else {}
        case NearShade():
            other = near.others[way.neighbour.id]
            shades[way.weft_key or way.key] = other.pk
            called = (
                f"{other.name} in the weft"
                if way.weft_key
                else f"{other.name} for {near.shades[way.key].name}"
            )
        case _:
            return None
    return Change(called, way.after.plan, shades, fields, any_lot)


def _turned_structure(project: Project) -> dict[str, object]:
    """The structure turned with the orders; one that cannot be turned stays, and its picture shows it."""
    try:
        key, draft = turned_weave(project.weave)
    except CalcError:
        return {}
    if draft is None:
        return {"structure": key}
    lines = ("threading", "tie_up", "treadling", "lift_plan")
    return {"structure": key, **dict(zip(lines, draft.written, strict=True))}


def _fewer_kits(project: Project, warps: int) -> dict[str, object]:
    """Spare ones go first, then those to show, then students."""
    left = {
        "kit_students": project.kit_students,
        "kit_demo": project.kit_demo,
        "kit_spare": project.kit_spare,
    }
    gone = sum(left.values()) - warps
    for name in ("kit_spare", "kit_demo", "kit_students"):
        fewer = min(gone, left[name])
        left[name] -= fewer
        gone -= fewer
    return dict(left)


def _dressed_short(dressed: Dressed) -> str:
    how = {Dressing.TIED: "", Dressing.LACED: "laced on", Dressing.TIED_ON: "tied on"}[dressed.dressing]
    return ", ".join(part for part in (dressed.loom.name if dressed.loom else "", how) if part)


class _Teller:
    """Words for the ways of one project."""

    def __init__(self, project: Project, near: Around, measures: Measures) -> None:
        self.project, self.near, self.measures = project, near, measures
        self.pieces = project.piece_name
        self.wished = wished_by_shade(project.shades.all())

    def tell(self, way: Way) -> Told:
        words: Mapping[type[Way], Callable[[Any], tuple[str, str, str]]] = {
            FewerPieces: self.fewer_pieces,
            FewerWarps: self.fewer_warps,
            FewerRepeats: self.fewer_repeats,
            LessWaste: self.less_waste,
            Leaner: self.leaner,
            Turned: self.turned,
            NearShade: self.near_shade,
            WithoutWish: self.without_wish,
            LotInsidePiece: self.lot_inside_piece,
            TwoWarps: self.two_warps,
            Moving: self.moving,
            Buying: self.buying,
        }
        name, effect, hint = words[type(way)](way)
        shades = self.shades_after(way)
        judged = judged_of(way.after, shades, self.wished)
        verdict = one_line(judged, self.measures)
        if not way.after.fits:
            verdict = f"Wider than the loom takes. {verdict}"
        return Told(
            token_of(way),
            name,
            effect,
            hint,
            judged.word if way.after.fits else "short",
            verdict,
            way.cures,
            self.effects(way, shades),
            self.colours(way),
            way.claim_id if isinstance(way, Moving) else None,
            self.order(way),
        )

    def colours(self, way: Way) -> Sequence[str]:
        if not isinstance(way, NearShade):
            return ()
        return self.near.shades[way.key].colour, self.near.others[way.neighbour.id].colour

    def shades_after(self, way: Way) -> dict[str, Shade]:
        shades = dict(self.near.shades)
        if isinstance(way, NearShade):
            shades[way.weft_key or way.key] = self.near.others[way.neighbour.id]
        return shades

    def effects(self, way: Way, shades: Mapping[str, Shade]) -> list[ShadeEffect]:
        """Of every shade whose need, or whose yarn, is another than before."""
        found = []
        for effect in way.effects:
            was, will_be = self.near.shades.get(effect.key), shades.get(effect.key)
            if effect.before_um == effect.after_um and was is will_be:
                continue
            if was is not None and was is not will_be:
                found.append(ShadeEffect(was.name, was.colour, self.long(effect.before_um), ""))
                was = None
            shade = will_be or was
            if shade is not None:
                before = self.long(effect.before_um) if was is not None and effect.before_um else ""
                found.append(ShadeEffect(shade.name, shade.colour, before, self.long(effect.after_um)))
        return found

    def long(self, um: int | Fraction) -> str:
        return self.measures.long_length(um, "up")

    def short(self, um: int | Fraction) -> str:
        return self.measures.short_length(um)

    def many(self, number: int) -> str:
        return "1 piece" if number == 1 else f"{number:,} {self.pieces}"

    def shade(self, key: str) -> str:
        return self.near.shades[key].name

    def fewer_pieces(self, way: FewerPieces) -> tuple[str, str, str]:
        plan, after = way.before.plan, way.after.plan
        effect = f"The warp is {self.measures.warp_length(way.after.worked.length.warp_um)} instead of "
        effect += f"{self.measures.warp_length(way.before.worked.length.warp_um)}."
        if way.most is None:
            effect += " As many as have their whole buffer."
        elif way.most.stopping_key:
            missing = self.long(way.most.missing_warp_um + way.most.missing_weft_um)
            effect += f" One more would lack {missing} of {self.shade(way.most.stopping_key)}."
        return f"Weave {self.many(after.pieces)} instead of {plan.pieces:,}", effect, ""

    def fewer_warps(self, way: FewerWarps) -> tuple[str, str, str]:
        fewer = way.before.plan.warps - way.after.plan.warps
        name = f"Wind {counted(way.after.plan.warps, 'warp')} instead of {way.before.plan.warps:,}"
        return name, f"{counted(fewer, 'kit')} fewer: spare ones first, then those to show.", ""

    def fewer_repeats(self, way: FewerRepeats) -> tuple[str, str, str]:
        width = way.before.worked.width
        name = f"Weave them {self.short(way.finished_um)} wide instead of {self.short(width.finished_um)}"
        effect = (
            f"{counted(way.repeats, 'repeat')} across instead of {way.repeats + way.fewer:,}, "
            f"{way.after.worked.width.ends:,} ends instead of {width.ends:,}."
        )
        return name, effect, "The sett stays as it is."

    def less_waste(self, way: LessWaste) -> tuple[str, str, str]:
        dressed = self.near.wastes[way.key]
        loom = dressed.loom
        on, comma = (f" on {loom.name}", f", on {loom.name}") if loom else ("", "")
        name, hint = {
            Dressing.TIED: (f"Weave it{on}", ""),
            Dressing.LACED: (f"Lace the warp on at the front{comma}", ""),
            Dressing.TIED_ON: (
                f"Tie on to the warp that is there{comma}",
                "The old warp must have as many ends, in the same order and at the same sett, and enough of it must "
                "stand behind the shafts and before the reed.",
            ),
        }[dressed.dressing]
        before, after = self.short(way.before.plan.waste_um), self.short(way.after.plan.waste_um)
        usual = "" if way.key != "tied_on" else " (usual figure; 10 to 14 in are common practice)"
        return name, f"{after} of loom waste instead of {before}{usual}, on every end.", hint

    def leaner(self, way: Leaner) -> tuple[str, str, str]:
        plan = way.before.plan
        saved = {"sample": plan.sample_um, "header": plan.header_um}
        effect = (
            f"Saves {together(f'{self.short(saved[name])} of {name}' for name in way.without)} on the loom."
        )
        hint = ""
        if "sample" in way.without:
            hint = "Without a sample, sett, beat and losses show on the first piece only."
        return f"Leave out the {together(way.without)}", effect, hint

    def turned(self, way: Turned) -> tuple[str, str, str]:
        before, after = way.before, way.after
        effect = (
            f"{self.short(after.plan.across_um)} across and {self.short(after.plan.along_um)} along the warp: "
            f"{after.worked.width.ends:,} ends, {self.short(after.worked.width.in_reed_um)} in the reed, a warp of "
            f"{self.measures.warp_length(after.worked.length.warp_um)}."
        )
        if way.orders_turned:
            hint = (
                "The orders of warp and weft change places, so that the cloth looks the same with its warp lying the "
                "other way. Is the weft yarn strong enough for a warp?"
            )
        else:
            hint = "The orders stay as they are, so stripes run the other way on the piece."
        if before.plan.hem_cloth_um:
            hint += " The hems stay at the cut ends."
        elif before.plan.fringe:
            hint += " The fringes stay at the cut ends."
        return f"Turn the {self.pieces} by 90 degrees", effect, hint

    def near_shade(self, way: NearShade) -> tuple[str, str, str]:
        other = self.near.others[way.neighbour.id]
        shade = self.near.shades[way.key]
        if way.weft_key:
            name = f"{other.name} in the weft, {shade.name} in the warp"
        else:
            name = f"{other.name} in place of {shade.name}"
        free = sum(cone.free_mg for cone in way.neighbour.cones)
        length = self.measures.long_length(way.neighbour.grist.length_um_of(free), "down")
        parts = [self._how_near(way), f"{length} free"]
        if other.yarn_id != shade.yarn_id:
            own = self.near.facts.stock[way.key].grist
            parts.append(f"{other.yarn.name}, {finer(own, way.neighbour.grist, self.measures)}")
        if other.no_more_on:
            parts.append("no more made itself")
        effect = "; ".join(parts)
        hint = "A colour on the screen is a hint only: lay the two side by side in daylight."
        return name, f"{effect[0].upper()}{effect[1:]}.", hint

    @staticmethod
    def _how_near(way: NearShade) -> str:
        said = how_near(way.gap)
        return said if way.gap is None else f"{said} ({way.gap:.1f} by CIEDE2000)"

    def without_wish(self, way: WithoutWish) -> tuple[str, str, str]:
        names = together(
            f"{self.shade(key)} {self.wished.get(self.near.shades[key].pk, '')}" for key in way.keys
        )
        effect = f"The plan wishes for {names}; of any lot there is more."
        hint = "Lots of one shade may differ: lay them side by side in daylight first."
        return f"Take {together(self.shade(key) for key in way.keys)} of any lot", effect, hint

    def lot_inside_piece(self, way: LotInsidePiece) -> tuple[str, str, str]:
        names = together(self.shade(key) for key in way.keys)
        effect = f"The yarn is there, in several lots: {self.many(way.pieces)} would hold two of them."
        hint = (
            "Change the lot where the neighbour changes, at a block, a stripe or in the hem, never in plain ground, "
            "and mark the piece."
        )
        return f"Let the lot of {names} change inside a piece", effect, hint

    def two_warps(self, way: TwoWarps) -> tuple[str, str, str]:
        name = f"Two warps, of {way.after.plan.pieces:,} and {way.second.plan.pieces:,} {self.pieces}"
        lots = together(
            f"{self.shade(key)} of {lot_word(self._lot(way.after, key), self.near.lot_names)} in the one, of "
            f"{lot_word(self._lot(way.second, key), self.near.lot_names)} in the other"
            for key in way.keys
        )
        effect = f"{lots}: no piece mixes lots."
        if way.more_um > 0:
            effect += f" Each end is {self.long(way.more_um)} longer in all, since the waste is lost twice."
        return name, effect, "Pack and sell them by lot: a set never mixes lots in one place."

    @staticmethod
    def _lot(tried: Tried, key: str) -> int | None:
        return next(iter(tried.verdicts[key].proposal.warp_lots), None)

    def moving(self, way: Moving) -> tuple[str, str, str]:
        other = self.near.later[way.claim_id]
        moved = together(
            f"{self.measures.long_length(self._length(key, mass), 'up')} of {self.shade(key)}"
            for key, mass in way.moved_mg.items()
        )
        when = f"winds on {date_format(other.need_on, 'j F Y')}" if other.need_on else "has no winding day"
        lacks = [
            f"{self.long(lost.lacks_um)} of {self.shade(lost.key)}" for lost in way.lost if lost.lacks_um
        ]
        effect = f"It gives {moved} and {when}, rank {other.rank}. "
        effect += f"It would then lack {together(lacks)}." if lacks else "It would lack nothing for that."
        return f"Move the reservation of “{other.name}”", effect, ""

    def _length(self, key: str, mass_mg: int) -> Fraction:
        return self.near.facts.stock[key].grist.length_um_of(mass_mg)

    def buying(self, way: Buying) -> tuple[str, str, str]:
        name = f"Buy {together(self._to_buy(line) for line in way.lines)}"
        unknown = together(self.shade(line.key) for line in way.lines if not line.known)
        matched = [
            f"{self._amount(line, line.matched)} of {self.shade(line.key)} will do if "
            f"{lot_word(line.matched_lot, self.near.lot_names)} can be had"
            for line in way.lines
            if line.matched is not None
        ]
        effect = "Enough for the whole buffer, and for a warp of one lot."
        if matched:
            effect += f" {together(matched)}."
        for line in way.lines:
            if line.counted is not None:
                effect += f" {self._sold(line, line.counted)}"
        first = self.project.trial_of or self.project
        unsold = [line for line in way.lines if line.counted is None]
        if unsold:
            of_what = (
                "" if len(unsold) == len(way.lines) else f" {together(self.shade(one.key) for one in unsold)}"
            )
            if first.need_on:
                day = date_format(first.need_on, "j F Y")
                effect += f" Order{of_what} by {day}, the winding day, less your supplier’s time."
            else:
                effect += f" Order{of_what} by the winding day, once there is one, less your supplier’s time."
        hint = ""
        if unknown:
            hint = (
                f"What {unknown} comes in is known once a put-up of a supplier is noted, or a cone has the weight that "
                "its label promises."
            )
        return name, effect, hint

    def order(self, way: Way) -> Sequence[tuple[str, int]]:
        if not isinstance(way, Buying):
            return ()
        return [(self.shade(line.key), self.near.shades[line.key].pk) for line in way.lines]

    def _sold(self, line: ToBuy, counted_up: Counted) -> str:
        """Of whom, for how much, and by when."""
        sold = self.near.sold
        put_up = sold.put_ups[counted_up.offered.id]
        supplier, times = put_up.supplier, sold.times[line.key, put_up.pk]
        price = ""
        if counted_up.cost_cents is not None:
            price = f" for {amount(counted_up.cost_cents, supplier.currency or sold.currency)}"
        text = f"{self.shade(line.key)} from {supplier.name}{price}"
        need_on = (self.project.trial_of or self.project).need_on
        if times.all_days is None:
            return f"{text}: how long they take is not known."
        if need_on is None:
            return f"{text}: {counted(times.all_days, 'day')} before the winding day, once there is one."
        last = times.last_day_for(need_on)
        over = (timezone.localdate() - last).days if last else 0
        if over > 0:
            delay = " with usual delay" if times.late_days else ""
            return f"{text}: too late by {counted(over, 'day')}{delay}."
        return f"{text}: order by {date_format(last, 'j F Y')}."

    def _to_buy(self, line: ToBuy) -> str:
        amount = self._amount(line, line.number)
        return f"{amount} of {self.shade(line.key)}"

    def _amount(self, line: ToBuy, number: int) -> str:
        mass = self.measures.mass(line.put_up_mg * (1 if line.known else number), "up")
        return f"{number:,} × {mass}" if line.known else mass
