"""The sleys offered for a plan in words: what each reaches, and what comes of keeping the ends or the width."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from projects.forms.gear import choice_text
from projects.gear import Span
from projects.gear_days import Days, clashes
from stash.calc.density import UM_PER_10_CM, UM_PER_CM, UM_PER_INCH, Density
from stash.calc.errors import CalcError
from stash.calc.losses import after_losses
from stash.calc.needs import WorkedPlan
from stash.calc.plan import Plan
from stash.calc.sley import Keeps, Sleyed
from stash.calc.sley_offers import Offer, offers, streak_period
from stash.calc.width import Width, work_width
from stash.calc.writing import Measures, decimal
from stash.models import Reed

AT_FIRST = 4
_BASES = {UM_PER_INCH: "epi", UM_PER_CM: "ends per cm", UM_PER_10_CM: "ends per 10 cm"}
MOST_OFFERED = 8


@dataclass(frozen=True, slots=True)
class Way:
    """One radio button: ends or width kept. Without `value` it is said only, since it cannot be ticked."""

    value: str
    text: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class SleyRow:
    reed: str
    sley: str
    flag_class: str
    flag: str
    ways: list[Way]
    hints: list[str]
    """What is in the way of this reed, and what the shades may show."""
    free: bool

    @property
    def chosen(self) -> bool:
        return any(way.chosen for way in self.ways)


def sley_rows(
    worked: WorkedPlan,
    reeds: Mapping[int, Reed],
    only: int | None,
    wants: Iterable[Span],
    days: Days,
    chosen: str,
    measures: Measures,
) -> list[SleyRow]:
    """The best first; of equally close ones those whose reed is free and long enough."""
    plan = worked.plan
    bare = replace(plan, sleyed=None)
    named = {pk: reed for pk, reed in reeds.items() if only in (None, pk)}
    wants = list(wants)
    taken = {pk: [one.text for one in clashes(reed, wants, days)] for pk, reed in named.items()}
    asked = work_width(bare)
    found = offers(plan.sett, [(pk, reed.dents) for pk, reed in named.items()])

    def wide(offer: Offer) -> bool:
        return (
            Sleyed(offer.reed, offer.sley).width_um(asked.places, plan.selvedges.floating)
            > named[offer.reed_key].length_um
        )

    def worth(offer: Offer) -> tuple[bool, int, bool]:
        picked = chosen.startswith(choice_text(offer.reed_key, offer.sley.text, ""))
        close = ("exact", "same", "near").index(offer.close)
        return not picked, close, bool(taken[offer.reed_key]) or wide(offer)

    rows = []
    for offer in sorted(found, key=worth)[:MOST_OFFERED]:
        reed = named[offer.reed_key]
        hints = list(taken[reed.pk])
        if wide(offer):
            hints.append(f"The reed is {measures.short_length(reed.length_um)} long; the warp is wider.")
        free = not hints
        period = streak_period(offer.sley, plan.order)
        if period:
            hints.append(f"Shades in turn may show faint streaks every {period} ends, mostly until washing.")
        rows.append(
            SleyRow(
                reed=reed.name,
                sley=offer.sley.text,
                flag_class={"exact": "ok", "same": "ok", "near": "warn"}[offer.close],
                flag=_flag(offer, measures),
                ways=_ways(bare, asked, offer, chosen, measures),
                hints=hints,
                free=free,
            )
        )
    return rows


def _flag(offer: Offer, measures: Measures) -> str:
    if offer.close == "exact":
        return "exact"
    share = f"{decimal(abs(offer.off) * 100, 1)} % {'closer' if offer.off > 0 else 'wider'}"
    return f"{share}, called the same" if offer.close == "same" else share


def _ways(plan: Plan, asked: Width, offer: Offer, chosen: str, measures: Measures) -> list[Way]:
    """An exact sley keeps both at once."""
    reached = measures.density(offer.sett)
    if offer.sett.per_um != plan.sett.per_um:
        # A metric reed in a studio of inches, or the other way: both figures, so that none is mistaken.
        own = Density(offer.sett.per_micrometre * plan.sett.per_um, plan.sett.per_um)
        base = _BASES.get(own.per_um, "ends")
        reached += f" ({decimal(own.count, 2)} {base})"
    found: list[Way] = []
    kinds: tuple[Keeps, ...] = ("ends",) if offer.close == "exact" else ("ends", "width")
    for keeps in kinds:
        sleyed = Sleyed(offer.reed, offer.sley, keeps)
        if keeps == "width" and not plan.order_fills:
            ends = int(offer.sett.number_in(asked.in_reed_um))
            found.append(
                Way(
                    "",
                    f"to keep the width, the order would have to be {ends:,} ends ({_more(ends - asked.places)})",
                    False,
                )
            )
            continue
        try:
            width = work_width(replace(plan, sleyed=sleyed))
        except CalcError:
            continue
        value = choice_text(offer.reed_key, offer.sley.text, keeps)
        if keeps == "width" and width.ends == asked.ends and value != chosen:
            continue  # whole repeats leave nothing to choose
        used = sleyed.sley.dents_used(width.places, plan.selvedges.floating)
        sizes = (
            f"{used:,} dents, {measures.short_length(width.in_reed_um)} in the reed, "
            f"{measures.short_length(after_losses(width.in_reed_um, plan.losses_across))} finished"
        )
        if offer.close == "exact":
            text = f"{reached}: {width.ends:,} ends in {sizes}"
        elif keeps == "ends":
            text = f"{reached}, keep the {width.ends:,} ends: {sizes}"
        else:
            text = (
                f"{reached}, keep the width: {width.ends:,} ends ({_more(width.ends - asked.ends)}), {sizes}"
            )
        found.append(Way(value, text, value == chosen))
    return found


def _more(number: int) -> str:
    return "as many" if not number else f"{abs(number):,} {'more' if number > 0 else 'fewer'}"
