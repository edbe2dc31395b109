"""Is a loom or a reed free for a plan's days? In words: who has it, from when until when."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from projects.gear import Span
from stash.models import Loom, Reed


@dataclass(frozen=True, slots=True)
class Days:
    """From the winding day until the warp is off the loom; None where no day is set."""

    from_on: date | None
    off_on: date | None


@dataclass(frozen=True, slots=True)
class Clash:
    """`sure`: the days do overlap. Otherwise a day is missing that would tell."""

    sure: bool
    text: str


def clashes(thing: Loom | Reed, wants: Iterable[Span], days: Days) -> list[Clash]:
    """What keeps the thing from these days, each as a sentence."""
    found = []
    if thing.lent_to:
        found += _held(f"{thing.name} is lent to {thing.lent_to}", thing.back_on, days, "to be back")
    if isinstance(thing, Loom) and thing.busy_with:
        found += _held(f"{thing.name} has {thing.busy_with} on it", thing.busy_until, days, "until")
    for span in _of(thing, wants):
        where = "on" if isinstance(thing, Loom) else "in use for"
        if span.on_loom:
            said = (
                f"{span.name} is on {thing.name}"
                if where == "on"
                else f"{thing.name} is in use for {span.name}"
            )
            found += _held(said, span.off_on, days, "until")
        else:
            found += _wanted(thing, span, days)
    return found


def _of(thing: Loom | Reed, wants: Iterable[Span]) -> Sequence[Span]:
    if isinstance(thing, Loom):
        return [span for span in wants if span.loom_id == thing.pk]
    return [span for span in wants if span.reed_id == thing.pk]


def _held(said: str, until: date | None, days: Days, word: str) -> list[Clash]:
    """It is away or taken now; until when?"""
    if until is None:
        return [Clash(False, f"{said}; no day is set for its end.")]
    if days.from_on is None:
        return [
            Clash(False, f"{said}, {_until(word, until)}. Set a winding day to see whether that is in time.")
        ]
    if until < days.from_on:
        return []
    return [Clash(True, f"{said}, {_until(word, until)}; this warp is to be wound on {day(days.from_on)}.")]


def _until(word: str, until: date) -> str:
    return f"to be back on {day(until)}" if word == "to be back" else f"until {day(until)}"


def _wanted(thing: Loom | Reed, span: Span, days: Days) -> list[Clash]:
    """Another plan wants it too."""
    if span.from_on is None:
        return [Clash(False, f"{span.name} wants {thing.name} too; it has no winding day yet.")]
    theirs = f"{span.name} wants {thing.name} from {day(span.from_on)}"
    if days.from_on is None:
        return [Clash(False, f"{theirs}. Set a winding day to see whether they meet.")]
    if span.from_on < days.from_on:
        if span.off_on is None:
            return [
                Clash(
                    False,
                    f"{theirs} and has no day to come off; this warp is to be wound on {day(days.from_on)}.",
                )
            ]
        if span.off_on < days.from_on:
            return []
        return [
            Clash(
                True,
                f"{theirs} until {day(span.off_on)}; this warp is to be wound on {day(days.from_on)}.",
            )
        ]
    if span.from_on == days.from_on:
        return [Clash(True, f"{theirs}, the winding day of this warp too.")]
    if days.off_on is None:
        return [Clash(False, f"{theirs}: say when this warp is off the loom.")]
    if days.off_on < span.from_on:
        return []
    return [Clash(True, f"{theirs}; this warp is to be off on {day(days.off_on)}.")]


def day(on: date) -> str:
    return f"{on.day} {on:%B}"
