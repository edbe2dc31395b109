"""What should be ordered, in words: what decides, why so many, and whether it comes in time."""

from collections.abc import Mapping
from datetime import date

from django.utils.formats import date_format

from projects.buying.deciding import Asking, Choice
from projects.buying.gathering import Scene
from projects.wording import counted, together
from stash.calc.reorder.decision import Decision, Short, clearing_mg, position_mg, wound_mg
from stash.calc.reorder.put_ups import Why
from stash.calc.writing import Measures
from stash.models import PutUp
from stash.tables.orders import amount, counted_form, packages

NAMED = 3
"""So many projects are named where more want a shade."""


def day_words(day: date, today: date) -> str:
    """14 August, with its year where that is another one."""
    return date_format(day, "j F" if day.year == today.year else "j F Y")


def level_name(decision: Decision) -> str:
    return "keep level" if decision.level and decision.level.kept else "computed level"


def decides(one: Asking, choice: Choice | None, scene: Scene, measures: Measures) -> str:
    """What decides when it is ordered, in one sentence, with the other beside it."""
    decision, today = (choice.decision if choice else one.decision), scene.today
    level = decision.level
    if decision.by == "level" and level and level.on:
        there = f"{_position(one, today, measures)}, and {measures.mass(level.mg, 'up')} is "
        there += "to be kept" if level.kept else "the level"
        estimate = "" if level.kept else ", an estimate from usual use"
        if level.on <= today:
            text = f"The {level_name(decision)} decides{estimate}: {there}."
        else:
            text = f"The {level_name(decision)} decides{estimate}: it is reached on {day_words(level.on, today)}."
        if decision.job and decision.job.on and choice:
            last = choice.times.last_day_for(decision.job.on)
            if last:
                text += f" The job would want it ordered by {day_words(last, today)}."
        return text
    if decision.by != "job" or decision.job is None:
        return ""
    if decision.order_by is None:
        if decision.job.on is None:
            return f"The job decides, and “{decision.job.name}” has no winding day yet."
        winds = day_words(decision.job.on, today)
        return f"The job decides: it winds on {winds}, and how long the parcel takes is not known."
    text = f"The job decides: order by {day_words(decision.order_by, today)}"
    if level and level.on:
        would = "is reached" if level.on <= today else "would be reached"
        text += f"; the {level_name(decision)} {would} on {day_words(level.on, today)}"
    return f"{text}."


def _position(one: Asking, today: date, measures: Measures) -> str:
    """What the level is held against: jobs that are to be wound by today have taken theirs."""
    outlook = one.around.outlook
    taken_mg = wound_mg(outlook, today, {short.job_id for short in one.shorts})
    mg = measures.mass(max(0, position_mg(outlook) - taken_mg), "down")
    where = "free, in quarantine or on order" if clearing_mg(outlook) else "free and on order"
    return f"{mg} is {where}{' beside what is to be wound by today' if taken_mg else ''}"


def wanted_by(one: Asking, today: date, measures: Measures) -> str:
    """Which jobs go without, and of how much; "" where none does."""
    if not one.shorts:
        return ""
    warps = {job.id for job in one.around.jobs if job.need.ends}
    said = [_wants(short, short.job_id in warps, today, measures) for short in one.shorts[:NAMED]]
    more = len(one.shorts) - NAMED
    return together([*said, counted(more, "further project")] if more > 0 else said)


def _wants(short: Short, warp: bool, today: date, measures: Measures) -> str:
    when = f" on {day_words(short.on, today)}" if short.on else ""
    if short.tight:
        return f"“{short.name}”{when}, which lacks its buffer"
    # By weight alone it may be less: a warp is cut in whole ends.
    ends = " in whole ends" if warp else ""
    return f"“{short.name}”{when}, short by {measures.mass(short.mass_mg, 'up')}{ends}"


def use_words(one: Asking, measures: Measures) -> str:
    """That usual use goes on until the winding day, which a verdict of today does not count; "" where there is none."""
    use = one.around.outlook.use
    if not one.shorts or use is None or not use.week_mg:
        return ""
    return f"Usual use until then is counted: about {measures.mass(use.week_mg)} a week, an estimate."


def why_so_many(choice: Choice, put_up: PutUp, currency: str) -> list[str]:
    """Each step by which the number came about, beyond the plain need."""
    said = []
    before = 0
    for why, number in choice.counted.steps:
        if why == Why.NEEDED and choice.needed_for_jobs == number:
            lot = ", the warp of one lot" if number > 1 else ""
            said.append(f"{counted_form(number, put_up.form)} for the whole buffer{lot}")
        elif why == Why.NEEDED:
            said.append(f"{counted_form(number, put_up.form)} to be above the level again")
        elif why == Why.ONE_MORE:
            said.append("one more, so that the lot lasts")
        elif why == Why.LEAST:
            said.append(f"they sell {number} at least")
        elif why == Why.ECONOMIC:
            said.append(f"{number} at a time cost least in a year")
        elif why == Why.BREAK:
            saved = amount(choice.counted.saved_cents, currency)
            said.append(f"{number} cost {saved} less than {before}")
        before = number
    return said


def late_words(choice: Choice, today: date) -> str:
    """Too late by 6 days with usual delay; "" in time."""
    if choice.late_days is None:
        return "When it would come is not known."
    if not choice.late_days:
        return ""
    here = choice.times.here_on(today)
    delay = " with usual delay" if choice.times.late_days else ""
    kept = ", quarantine counted" if choice.times.quarantine_days else ""
    return (
        f"Too late by {counted(choice.late_days, 'day')}{delay}{kept}: ordered today it can be wound on "
        f"{day_words(here, today) if here else ''}."
    )


def other_lots_words(one: Asking, choice: Choice) -> str:
    """Whom an order of one lot does not serve, since another is wished for; "" where there is nobody."""
    if not choice.needed_for_jobs or choice.matched_lot is None:
        return ""
    wishes = {job.id: job.need.wish_lot_id for job in one.around.jobs if job.need.wish == "lot"}
    if choice.matched_lot not in wishes.values():
        return ""
    left = [
        f"“{short.name}”"
        for short in one.shorts
        if wishes.get(short.job_id, choice.matched_lot) != choice.matched_lot
    ]
    if not left:
        return ""
    if len(left) > 1:
        return f"{together(left)} wish for other lots and still go without."
    return f"{left[0]} wishes for another lot and still goes without."


def matched_words(choice: Choice, put_up: PutUp, lot_names: Mapping[int, str]) -> str:
    """Fewer will do if the lot on the shelf can be had."""
    if choice.matched is None or choice.matched_lot not in lot_names:
        return ""
    lot = lot_names[choice.matched_lot]
    if choice.matched >= choice.needed_for_jobs:
        return f"It is wished for in lot {lot}."
    return f"{counted_form(choice.matched, put_up.form)} will do if lot {lot} can be had."


def other_words(choice: Choice, scene: Scene, measures: Measures) -> str:
    """The same from somebody else, or in another put-up."""
    put_up = scene.put_ups[choice.offered.id]
    supplier = scene.suppliers[choice.offered.supplier_id]
    cost = choice.counted.cost_cents
    price = "" if cost is None else f" for {amount(cost, scene.currency_of(supplier.pk))}"
    late = ""
    if choice.late_days is None:
        late = ", time not known"
    elif choice.late_days:
        late = f", too late by {counted(choice.late_days, 'day')}"
    what = packages(choice.counted.number, put_up.form, put_up.mass_mg, measures)
    return f"{supplier.name}: {what}{price}{late}"


def reason_words(one: Asking, choice: Choice, scene: Scene, measures: Measures) -> str:
    """Why it is ordered, as an order keeps it."""
    wanted = wanted_by(one, scene.today, measures)
    text = f"For {wanted}." if wanted else decides(one, choice, scene, measures)
    return text if len(text) <= 300 else f"{text[:299]}…"
