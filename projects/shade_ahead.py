"""What lies ahead of one shade with all that is known: beside the days, what decides when it is ordered.

The days count by weight. Whether whole ends of one lot come out of it is asked as Buying asks it, and goes before.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from projects.ahead import Ahead, aheads
from projects.buying import words
from projects.buying.deciding import Asking, decide_all, times_of
from projects.buying.gathering import Around, Scene, gather
from stash.calc.outlook import Outlook
from stash.calc.reorder.decision import level_of
from stash.calc.reorder.level import Level
from stash.calc.writing import Measures
from stash.models import Shade, Studio


@dataclass(frozen=True, slots=True)
class ShadeAhead:
    ahead: Ahead
    decides: Sequence[str]
    """What decides when it is ordered, and by when; the computed level and its parts."""
    asks: bool
    """Does it stand in Buying?"""


def shade_ahead(shade: Shade, studio: Studio, measures: Measures, *, today: date) -> ShadeAhead:
    """Of a live shade, which comes with its yarn. A fixed number of queries, and the same again where it may be bought
    in several ways: of whom it is bought then hangs on the other shades."""
    scene = gather(today, studio=studio, only=[shade.pk])
    around = scene.shades.get(shade.pk)
    asking, coming = decide_all(scene)
    one = asking[0] if asking else None
    if one and len(one.choices) > 1:
        one = _among_all(one, studio, today)
    decided = one.decision if one else coming[0].decision if coming else None
    level = decided.level.computed if decided and decided.level else _computed(scene, around)
    outlook = around.outlook if around else Outlook(shade.pk, 0, shade.keep_mg)
    levels = {shade.pk: level.mg} if level else {}
    ahead = aheads([shade], {shade.pk: outlook}, measures, today=today, levels=levels)[shade.pk]
    said = [_decides(one, scene, measures), _level(level, measures)]
    return ShadeAhead(_judged(ahead, one, measures, today), [text for text in said if text], one is not None)


def _among_all(one: Asking, studio: Studio, today: date) -> Asking:
    """As Buying settles it."""
    asking, _ = decide_all(gather(today, studio=studio))
    return next((other for other in asking if other.shade_id == one.shade_id), one)


def _computed(scene: Scene, around: Around | None) -> Level | None:
    """By whoever sells it and is quickest; None where nobody does, or usual use is not known."""
    found = []
    for offer in around.offers if around else ():
        times = times_of(scene, around, offer.supplier_id)
        reached = level_of(around.outlook, times, today=scene.today, sure_ppm=scene.studio.sure_ppm)
        if reached and reached.computed:
            found.append((times.all_days or 0, reached.computed))
    return min(found, key=lambda pair: pair[0])[1] if found else None


def _decides(one: Asking | None, scene: Scene, measures: Measures) -> str:
    return words.decides(one, one.chosen, scene, measures) if one else ""


def _level(level: Level | None, measures: Measures) -> str:
    if level is None:
        return ""
    mass = measures.mass
    return (
        f"The computed level is {mass(level.mg, 'up')}: {mass(level.lead_mg, 'up')} for use in the lead time and "
        f"{mass(level.safety_mg, 'up')} for safety, an estimate from usual use."
    )


def _judged(ahead: Ahead, one: Asking | None, measures: Measures, today: date) -> Ahead:
    """The sentence of the days, or what whole ends and lots say where that is worse."""
    shorts = one.shorts if one else ()
    if any(not short.tight for short in shorts) and ahead.state != "short":
        state, word = "short", "Short"
    elif shorts and ahead.state in ("enough", "quiet"):
        state, word = "tight", "Tight"
    elif not shorts and ahead.state == "enough":
        # Nothing is short in whole ends either, so there is nothing to qualify.
        lead = ahead.lead.removeprefix("By weight ")
        return replace(ahead, lead=f"{lead[:1].upper()}{lead[1:]}")
    else:
        return ahead
    wanted = words.wanted_by(one, today, measures) if one else ""
    return replace(ahead, state=state, lead=f"{word} in whole ends and lots, usual use counted: {wanted}.")
