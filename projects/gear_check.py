"""A plan held against the equipment: width, reed, sley, shafts, heddles, beam, waste, days; each in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from django.utils.translation import gettext as _

from projects.forms.gear import choice_text
from projects.gear import Shed
from projects.gear_days import Days, clashes
from projects.gear_sleys import AT_FIRST, SleyRow, sley_rows
from projects.models import Dressing
from projects.services.planning import Gear
from stash.calc.draft import Draft, Interlacing
from stash.calc.heddles import Heddles, check_heddles, repeat_on
from stash.calc.loom_room import Room
from stash.calc.needs import WorkedPlan
from stash.calc.sley import centre
from stash.calc.sley_offers import nearest, off_by
from stash.calc.writing import Measures, decimal
from stash.models import Loom, Reed

State = Literal["ok", "warn", "bad", "note"]
_WASTES = {
    Dressing.TIED: ("waste_um", "tied to the rods"),
    Dressing.LACED: ("waste_laced_um", "laced on at the front"),
    Dressing.TIED_ON: ("waste_tied_on_um", "tied on"),
}


@dataclass(frozen=True, slots=True)
class Check:
    """What was looked at, what came of it in a word or two, and the sentence."""

    topic: str
    state: State
    flag: str
    text: str


@dataclass(frozen=True, slots=True)
class GearView:
    checks: Sequence[Check]
    sleys: Sequence[SleyRow]
    more_sleys: Sequence[SleyRow]
    waste_um: int | None
    """What the loom loses, dressed so, where the plan reckons with something else."""
    waste_said: str
    lost_sley: bool
    no_reeds: bool

    @property
    def chosen_sley(self) -> bool:
        return any(row.chosen for row in (*self.sleys, *self.more_sleys))

    @property
    def state(self) -> State:
        states = {check.state for check in self.checks}
        return next((state for state in ("bad", "warn", "ok") if state in states), "note")


def gear_view(
    *,
    worked: WorkedPlan,
    weave: Interlacing,
    gear: Gear,
    shed: Shed,
    days: Days,
    measures: Measures,
    only: int | None = None,
    lost_sley: bool = False,
) -> GearView:
    """No queries: `shed` was read before. `only` offers the sleys of one reed; `lost_sley`: one was chosen, and the
    sett has moved away from it since."""
    loom = shed.looms.get(gear.loom_id or 0)
    reed = shed.reeds.get(gear.reed_id or 0)
    chosen = choice_text(reed.pk, gear.sley, gear.sley_keeps) if reed and worked.plan.sleyed else ""
    rows = sley_rows(worked, shed.reeds, only, shed.spans, days, chosen, measures)
    checks = [_width(worked, loom, shed, measures)] if shed.looms else []
    if shed.reeds:
        checks += _reed(worked, loom, reed, shed, measures, bool(rows))
    checks += _shafts(weave, loom)
    if loom:
        checks += _heddles(worked, weave, loom)
        checks += _beam(worked, loom, gear, measures)
        checks += _left(worked, loom, gear, measures)
    checks += _days(loom, reed, shed, days)
    waste_um, said = _waste(worked, loom, gear, measures)
    return GearView(
        checks=checks,
        sleys=rows[:AT_FIRST],
        more_sleys=rows[AT_FIRST:],
        waste_um=waste_um,
        waste_said=said,
        lost_sley=lost_sley,
        no_reeds=not shed.reeds,
    )


def _width(worked: WorkedPlan, loom: Loom | None, shed: Shed, measures: Measures) -> Check:
    in_reed = worked.width.in_reed_um
    short = measures.short_length
    others = [
        one.name
        for one in shed.looms.values()
        if one != loom and Room(in_reed, one.weaving_width_um).fits == "wide enough"
    ]
    if loom is None:
        if others:
            are = "is" if len(others) == 1 else "are"
            return Check(
                "Width",
                "note",
                "no loom yet",
                f"{_listed(others)} {are} wide enough for {short(in_reed)} in the reed.",
            )
        loom = max(shed.looms.values(), key=lambda one: one.weaving_width_um)
    room = Room(in_reed, loom.weaving_width_um)
    if room.fits == "too wide":
        ceiling = short(room.ceiling_um(worked.plan.losses_across), rounding="down")
        repeats = (
            "plan fewer repeats"
            if worked.width.repeats and worked.width.repeats > 1
            else "take ends out of the order"
        )
        other = (
            f"{_listed(others)} {'is' if len(others) == 1 else 'are'} wide enough."
            if others
            else "No loom here is wide enough."
        )
        return Check(
            "Width",
            "bad",
            "too wide",
            f"{short(in_reed)} in the reed, and {loom.name} weaves {short(loom.weaving_width_um)}. {other} "
            f"Change the finished size across to {ceiling} or less, {repeats}, or turn the piece. A closer sett "
            "makes it no narrower.",
        )
    left = short(room.clearance_um, rounding="down")
    if room.fits == "barely":
        return Check(
            "Width",
            "warn",
            "fits barely",
            f"{short(in_reed)} in the reed leaves only {left} at each side of {loom.name}.",
        )
    return Check(
        "Width", "ok", "fits", f"{short(in_reed)} in the reed leaves {left} at each side of {loom.name}."
    )


def _reed(
    worked: WorkedPlan, loom: Loom | None, reed: Reed | None, shed: Shed, measures: Measures, offered: bool
) -> list[Check]:
    plan, short = worked.plan, measures.short_length
    found = []
    if reed and worked.width.in_reed_um > reed.length_um:
        found.append(
            Check(
                "Reed",
                "bad",
                "too short",
                f"{reed.name} is {short(reed.length_um)} long; the warp is {short(worked.width.in_reed_um)} wide.",
            )
        )
    if reed and loom and reed.height_um and loom.reed_height_um and reed.height_um > loom.reed_height_um:
        found.append(
            Check(
                "Reed",
                "bad",
                "too high",
                f"{reed.name} is {short(reed.height_um)} high; the beater of {loom.name} takes "
                f"{short(loom.reed_height_um)}.",
            )
        )
    sett = measures.density(plan.sett)
    if plan.sleyed and reed:
        sleyed = plan.sleyed
        used = sleyed.sley.dents_used(worked.width.places, plan.selvedges.floating)
        off = off_by(plan.sett, sleyed.reed, sleyed.sley)
        reached = f"exactly {sett}" if not off else f"{measures.density(sleyed.sett)} for {sett}"
        whole = int(sleyed.reed.number_in(reed.length_um))
        begin = ""
        if used <= whole:
            begin = f" Begin at dent {centre(sleyed.reed, reed.length_um, used).first:,} from the left."
        state: State = "ok" if abs(off) * 40 <= 1 else "warn"
        flag = "exact" if not off else f"{decimal(abs(off) * 100, 1)} % {'closer' if off > 0 else 'wider'}"
        floating = _(" The floating selvedges have a dent each.") if plan.selvedges.floating else ""
        found.append(
            Check(
                "Sley",
                state,
                flag,
                f"{sleyed.sley.text} in {reed.name} is {reached}: {used:,} dents.{begin}{floating}",
            )
        )
    elif not offered:
        found.append(_unreached(worked, reed, shed, measures))
    return found


def _unreached(worked: WorkedPlan, reed: Reed | None, shed: Shed, measures: Measures) -> Check:
    sett = worked.plan.sett
    asked = [(reed.pk, reed.dents)] if reed else [(pk, one.dents) for pk, one in shed.reeds.items()]
    near = nearest(sett, asked)
    where = reed.name if reed else "any reed here"
    return Check(
        "Sley",
        "bad",
        "none near",
        f"No sley in {where} comes within 5 % of {measures.density(sett)}. The nearest is "
        f"{measures.density(near.sett)}, {near.sley.text} in {shed.reeds[near.reed_key].name}: change the sett, "
        "or choose another reed.",
    )


def _shafts(weave: Interlacing, loom: Loom | None) -> list[Check]:
    needed = max(weave.threading)
    if loom is None:
        return []
    if needed > loom.shafts:
        what = "threading" if isinstance(weave, Draft) else "structure"
        return [
            Check(
                "Shafts",
                "bad",
                "too few",
                f"{weave.name.capitalize()} needs {needed} shafts, {loom.name} has {loom.shafts}: change the {what}, "
                "or choose another loom.",
            )
        ]
    return [Check("Shafts", "ok", "enough", f"{weave.name.capitalize()} needs {needed} of {loom.shafts}.")]


def _heddles(worked: WorkedPlan, weave: Interlacing, loom: Loom) -> list[Check]:
    if max(weave.threading) > loom.shafts:
        return []
    owned = {row.shaft: row.number for row in loom.heddles.all()}
    repeat = repeat_on(weave, loom.shafts)
    found = check_heddles(repeat, worked.layout.heddles, owned)
    needed = _by_shaft(found.needed)
    if not owned:
        return [
            Check("Heddles", "note", "not counted", f"It takes {needed}. Note how many hang on {loom.name}.")
        ]
    if found.enough:
        return [Check("Heddles", "ok", "enough", f"It takes {needed}; there are {_by_shaft(owned)}.")]
    missing = sum(found.missing.values())
    short = ", ".join(f"{number} on shaft {shaft}" for shaft, number in found.missing.items())
    state: State = "warn" if found.uneven or not found.to_tie else "bad"
    return [
        Check("Heddles", state, f"{missing} missing", f"It takes {needed}; {short} missing. {_spread(found)}")
    ]


def _spread(found: Heddles) -> str:
    ways = []
    if found.moves:
        moves = "; ".join(
            f"{one.heddles} from shaft {one.from_shaft} to {one.to_shaft}" for one in found.moves
        )
        ways.append(f"Move {moves}.")
    if found.uneven:
        ways.append(f"Or thread the pairs unevenly: {_by_shaft(found.uneven)}.")
    if found.to_tie:
        ways.append(f"{'Then tie' if found.moves else 'Tie'} {found.to_tie} repair heddles.")
    return " ".join(ways)


def _by_shaft(numbers: Mapping[int, int]) -> str:
    """65 heddles on each of 4 shafts; else 66, 66, 65 and 65 on shafts 1 to 4."""
    values = list(numbers.values())
    if len(values) == 1:
        return f"{values[0]:,} on shaft {min(numbers)}"
    if len(set(values)) == 1:
        return f"{values[0]:,} on each of {len(values)} shafts"
    said = [f"{number:,}" for number in values]
    return f"{', '.join(said[:-1])} and {said[-1]} on shafts {min(numbers)} to {max(numbers)}"


def _beam(worked: WorkedPlan, loom: Loom, gear: Gear, measures: Measures) -> list[Check]:
    warp_um = max(worked.warps_um.values())
    if not loom.longest_warp_um or warp_um <= loom.longest_warp_um:
        return []
    return [
        Check(
            "Beam",
            "warn",
            "longest so far",
            f"{measures.warp_length(warp_um)} of warp is more than {loom.name} took so far: "
            f"{measures.warp_length(loom.longest_warp_um, 'down')}. Thick cloth fills the cloth beam sooner still.",
        )
    ]


def _left(worked: WorkedPlan, loom: Loom, gear: Gear, measures: Measures) -> list[Check]:
    ends = worked.layout.ends
    if loom.left_um:
        of = f" of {loom.left_of}" if loom.left_of else ""
        rest = f"{measures.warp_length(loom.left_um, 'down')} of {loom.left_ends:,} ends{of} is left on {loom.name}"
        if loom.left_ends == ends:
            if gear.dressing == Dressing.TIED_ON:
                return [Check("Tying on", "ok", "fits", f"{rest}; tie on to it.")]
            more = "as many as this warp has: tying on saves waste and threading."
            return [Check("Tying on", "note", "would fit", f"{rest}; {more}")]
        if gear.dressing == Dressing.TIED_ON:
            gap = abs(ends - loom.left_ends)
            what = "must be threaded anew" if ends > loom.left_ends else "of the old ones stay over"
            return [
                Check(
                    "Tying on", "warn", "not as many ends", f"{rest}; this warp has {ends:,}: {gap:,} {what}."
                )
            ]
        return []
    if gear.dressing == Dressing.TIED_ON:
        return [
            Check(
                "Tying on", "bad", "nothing there", f"No warp is noted as left on {loom.name} to tie on to."
            )
        ]
    return []


def _waste(worked: WorkedPlan, loom: Loom | None, gear: Gear, measures: Measures) -> tuple[int | None, str]:
    if loom is None:
        return None, ""
    column, words = _WASTES[Dressing(gear.dressing)]
    waste_um = getattr(loom, column)
    if waste_um is None or waste_um == worked.plan.waste_um:
        return None, ""
    short = measures.short_length
    return (
        waste_um,
        f"{loom.name} loses {short(waste_um)} on each warp, {words}; the plan reckons with {short(worked.plan.waste_um)}.",
    )


def _days(loom: Loom | None, reed: Reed | None, shed: Shed, days: Days) -> list[Check]:
    found = []
    for thing in (loom, reed):
        for clash in clashes(thing, shed.spans, days) if thing else []:
            found.append(
                Check(
                    "Days", "bad" if clash.sure else "warn", "taken" if clash.sure else "not sure", clash.text
                )
            )
    if (loom or reed) and not found:
        if days.from_on is None:
            return [
                Check(
                    "Days", "note", "no winding day", "Nobody else wants loom or reed; no winding day is set."
                )
            ]
        what = "Loom and reed are" if loom and reed else f"{(loom or reed).name} is"  # type: ignore[union-attr]
        return [Check("Days", "ok", "free", f"{what} free on these days.")]
    return found


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
