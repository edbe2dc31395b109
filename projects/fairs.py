"""What is to be said of a fair and of the projects that must be ready for it, counted back from its day."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

from projects.judging import judge_all
from projects.models import Fair, Project, Stage
from projects.wording import counted, one_line
from stash.calc.fair_days import CountedBack, FairDays, Making, Trouble, count_back
from stash.calc.writing import Measures

_OFF = (Stage.CUT_OFF, Stage.FINISHED, Stage.DONE)
_READY = (Stage.FINISHED, Stage.DONE)
_OF_DAYS = (Trouble.WINDING_LATE, Trouble.OFF_LATE, Trouble.NO_FINISHING, Trouble.READY_PAST)


@dataclass(frozen=True, slots=True)
class Going:
    """One project on its way to a fair. `flag` is the word by which pages colour the sentence, "" for none."""

    project: Project
    making: Making
    back: CountedBack
    flag: str
    sentence: str
    troubles: tuple[str, ...]
    left: str
    """What lies between the days that are set, or which of them is missing."""
    order_by: date | None
    """The last day to order what it lacks, while there is time."""


def days_of(fair: Fair) -> FairDays:
    return FairDays(fair.begins_on, fair.ends_on or fair.begins_on, fair.clear_days)


def is_over(fair: Fair, today: date) -> bool:
    return days_of(fair).ends_on < today


def going_to(
    fairs: Collection[Fair], order_days: Mapping[int, date], measures: Measures, today: date
) -> dict[int, list[Going]]:
    """By fair, in the order of their winding days: the same number of queries however many there are. `order_days` has
    the earliest last day to order by project."""
    by_key = {fair.pk: fair for fair in fairs}
    found = Project.objects.no_trials().filter(fair__in=by_key).by_need().listed().with_taking()
    going: dict[int, list[Going]] = {pk: [] for pk in by_key}
    for project, judged in judge_all(found):
        making = _making(project, order_days.get(project.pk), taken=project.was_taken)
        back = count_back(days_of(by_key[project.fair_id]), making, today)
        flag, sentence = "", ""
        if project.closed_at:
            sentence = "Put away."
        elif making.ready:
            flag, sentence = "ok", "Ready."
        elif making.wound:
            sentence = "Under way."
        else:
            flag, sentence = judged.word, one_line(judged, measures)
        still = not project.closed_at
        going[project.fair_id].append(
            Going(
                project,
                making,
                back,
                flag,
                sentence,
                tuple(_said(*trouble, making, back, today) for trouble in back.troubles) if still else (),
                _left(making, back) if still else "",
                making.order_on if still and _can_order(making, today) else None,
            )
        )
    return going


def too_late(project: Project, fair: Fair, today: date) -> list[str]:
    """Which of a project's own days lie too late for its fair: what its page says beside the fair's name."""
    if project.closed_at or is_over(fair, today):
        return []
    making = _making(project, None, taken=False)
    back = count_back(days_of(fair), making, today)
    return [
        _said(trouble, days, making, back, today) for trouble, days in back.troubles if trouble in _OF_DAYS
    ]


def _making(project: Project, order_on: date | None, *, taken: bool) -> Making:
    return Making(
        winding_on=project.need_on,
        off_on=project.off_on,
        order_on=order_on,
        wound=taken or project.stage != Stage.PLANNED,
        off=project.stage in _OFF,
        ready=project.stage in _READY,
    )


def _can_order(making: Making, today: date) -> bool:
    return making.order_on is not None and making.order_on >= today and not making.wound


def _said(trouble: Trouble, days: int, making: Making, back: CountedBack, today: date) -> str:
    late = counted(days, "day")
    if trouble == Trouble.ORDER_PAST:
        return f"What it lacks was to be ordered by {day(making.order_on, today)}."
    if trouble == Trouble.WINDING_PAST:
        return f"It was to be wound on {day(making.winding_on, today)}."
    if trouble == Trouble.WINDING_LATE:
        return f"Its winding day lies {late} after the day to be ready."
    if trouble == Trouble.OFF_PAST:
        return f"It was to be off the loom on {day(making.off_on, today)}."
    if trouble == Trouble.OFF_LATE:
        return f"It comes off the loom {late} after the day to be ready."
    if trouble == Trouble.NO_FINISHING:
        return "It comes off the loom on the day to be ready: no day is left to wash, press and hem it."
    return f"It was to be ready by {day(back.ready_on, today)}."


def _left(making: Making, back: CountedBack) -> str:
    if making.ready:
        return ""
    if making.off:
        return f"To be finished by {day(back.ready_on, back.ready_on)}."
    missing = [
        word
        for word, lacks in (
            ("winding day", making.winding_on is None and not making.wound),
            ("day off the loom", making.off_on is None),
        )
        if lacks
    ]
    known = [
        words
        for words in (
            f"{counted(back.weaving_days, 'day')} to dress the loom and weave"
            if back.weaving_days is not None
            else "",
            f"{counted(back.finishing_days, 'day')} to finish it" if back.finishing_days else "",
        )
        if words
    ]
    said = [", ".join(known) + "."] if known else []
    if missing:
        said.append(f"No {' and no '.join(missing)} {'is' if len(missing) == 1 else 'are'} set.")
    return " ".join(said)


def day(on: date | None, today: date) -> str:
    """14 August; with its year where that is another one than today's."""
    if on is None:
        return ""
    return f"{on.day} {on:%B}" if on.year == today.year else f"{on.day} {on:%B} {on.year}"


def span(begins_on: date, ends_on: date | None) -> str:
    """19 June 2027; 19 and 20 June 2027; 19 to 21 June 2027; 30 June to 2 July 2027."""
    last = ends_on or begins_on
    if last == begins_on:
        return f"{begins_on.day} {begins_on:%B} {begins_on.year}"
    word = "and" if (last - begins_on).days == 1 else "to"
    first = f"{begins_on.day}"
    if (begins_on.year, begins_on.month) != (last.year, last.month):
        first += f" {begins_on:%B}"
    if begins_on.year != last.year:
        first += f" {begins_on.year}"
    return f"{first} {word} {last.day} {last:%B} {last.year}"


def onward(one: Going, today: date) -> str:
    """What is next on the way of a project that is not ready, with its day: the way is read from today on."""
    making = one.making
    if one.project.closed_at or making.ready:
        return ""
    if making.off:
        return f"to be finished by {day(one.back.ready_on, today)}"
    if not making.wound and making.winding_on is not None:
        return f"to be wound on {day(making.winding_on, today)}"
    if not making.wound:
        return "no winding day is set"
    if making.off_on is not None:
        return f"to be off the loom on {day(making.off_on, today)}"
    return "no day off the loom is set"
