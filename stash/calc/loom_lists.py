"""Lists for dressing the loom: threading in groups, what stands where in the reed, what each shaft lifts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.layout import End
from stash.calc.repeats import Again, gather_repeats

USUAL_GROUP = 20
MOST_GROUP = 200


@dataclass(frozen=True, slots=True)
class LoomEnd:
    """An end with its shaft (None: in no heddle) and its dent, both counted from 1."""

    end: End
    shaft: int | None
    dent: int

    @property
    def number(self) -> int:
        """Counted from 1, as it is counted at the loom."""
        return self.end.number + 1


def dress(ends: Iterable[End], threading: Sequence[int], dents: Sequence[int]) -> tuple[LoomEnd, ...]:
    """Every end with its shaft and dent.

    `threading` has the shaft of every heddle from the left, `dents` how many places lie in every dent (see
    `Layout`). Raises CalcError unless all heddles are threaded and all places lie in a dent.
    """
    dent_of_place: list[int] = []
    for number, places in enumerate(dents, start=1):
        dent_of_place += [number] * places
    dressed = []
    for end in ends:
        if end.place >= len(dent_of_place):
            raise CalcError("The sley ends before the warp does.", field="sley")
        if end.heddle is not None and end.heddle >= len(threading):
            raise CalcError("The threading ends before the warp does.", field="threading")
        shaft = None if end.heddle is None else threading[end.heddle]
        dressed.append(LoomEnd(end, shaft, dent_of_place[end.place]))
    return tuple(dressed)


@dataclass(frozen=True, slots=True)
class Group:
    """Heddles side by side, threaded and checked before the next. Numbers count from 1."""

    first_end: int
    last_end: int
    heddles: int
    heddles_so_far: int
    shafts: tuple[Again[int], ...]
    """The shafts from the left, what repeats written once."""
    keys: tuple[Again[tuple[int, str]], ...]
    """Runs of (ends, shade) from the left, what repeats written once."""
    first_dent: int
    last_dent: int


def threading_groups(ends: Sequence[LoomEnd], size: int = USUAL_GROUP) -> tuple[Group, ...]:
    """Groups of `size` heddles from the left; ends in no heddle, or sharing one, stay with their neighbours.

    Raises CalcError unless the size is from 2 to 200.
    """
    if not 2 <= size <= MOST_GROUP:
        raise CalcError(f"Thread in groups of 2 to {MOST_GROUP} ends.", field="group")
    groups: list[Group] = []
    for members in _by_heddle(ends, size):
        heddles = list({one.end.heddle: one.shaft for one in members if one.shaft is not None}.values())
        before = groups[-1].heddles_so_far if groups else 0
        groups.append(
            Group(
                first_end=members[0].number,
                last_end=members[-1].number,
                heddles=len(heddles),
                heddles_so_far=before + len(heddles),
                shafts=gather_repeats([shaft for shaft in heddles if shaft is not None]),
                keys=gather_repeats(runs_of(one.end.key for one in members)),
                first_dent=members[0].dent,
                last_dent=members[-1].dent,
            )
        )
    return tuple(groups)


def _by_heddle(ends: Sequence[LoomEnd], size: int) -> list[list[LoomEnd]]:
    """A floating end at the left begins the first group; whatever follows a group's last heddle ends it."""
    groups: list[list[LoomEnd]] = [[]]
    for one in ends:
        heddle = one.end.heddle
        if heddle is not None and heddle >= size * len(groups):
            groups.append([])
        groups[-1].append(one)
    return [group for group in groups if group]


@dataclass(frozen=True, slots=True)
class ReedCheck:
    """What lies in the dent that covers a mark on the reed, measured from the warp's left edge."""

    at_um: int
    dent: int
    first_end: int
    last_end: int
    keys: tuple[str, ...]

    @property
    def empty(self) -> bool:
        return not self.keys


def reed_checks(
    ends: Sequence[LoomEnd], dents: Density, dents_used: int, step_um: int
) -> tuple[ReedCheck, ...]:
    """At every `step_um` of the reed from the warp's left edge: which ends must lie there.

    A dent that was missed or filled twice moves all ends after it, and shows at the next mark. A mark is held
    against the dent that ends there or goes over it. An empty dent names the last end before it.
    """
    if step_um < 1:
        raise CalcError("Marks are further apart than nothing.", field="step")
    by_dent: dict[int, list[LoomEnd]] = {}
    for one in ends:
        by_dent.setdefault(one.dent, []).append(one)
    checks = []
    last = 0
    seen = 0
    width = dents.length_um_of(dents_used)
    for mark in range(step_um, int(width) + 1, step_um):
        dent = min(dents_used, ceil(dents.number_in(mark)))
        for number in range(seen + 1, dent + 1):
            if number in by_dent:
                last = by_dent[number][-1].number
        seen = dent
        members = by_dent.get(dent, [])
        first = members[0].number if members else last
        checks.append(ReedCheck(mark, dent, first, last, tuple(one.end.key for one in members)))
    return tuple(checks)


def keys_by_shaft(ends: Iterable[LoomEnd]) -> dict[int, tuple[Again[tuple[int, str]], ...]]:
    """For each shaft, from 1, the runs of (ends, shade) that must rise when it is lifted alone."""
    on_shaft: dict[int, list[str]] = {}
    for one in ends:
        if one.shaft is not None:
            on_shaft.setdefault(one.shaft, []).append(one.end.key)
    return {shaft: gather_repeats(runs_of(on_shaft[shaft])) for shaft in sorted(on_shaft)}


def heddles_on(ends: Iterable[LoomEnd]) -> dict[int, int]:
    """Heddles on each shaft: ends doubled in the heddle share one, floating ones have none."""
    heddles: dict[int, int] = {}
    for heddle, shaft in {(one.end.heddle, one.shaft) for one in ends if one.shaft is not None}:
        assert heddle is not None and shaft is not None, "an end on a shaft stands in a heddle"
        heddles[shaft] = heddles.get(shaft, 0) + 1
    return dict(sorted(heddles.items()))


@dataclass(frozen=True, slots=True)
class TyingGroups:
    """Bundles of about an inch that are tied or laced to the rod together."""

    ends: int
    groups: int
    last: int
    """Ends in the last group."""


def tying_groups(ends: int, sett: Density, width_um: int) -> TyingGroups:
    """Ends to a bundle of `width_um` (1 in; common practice), and what is left for the last."""
    each = max(1, int(sett.number_in(width_um) + Fraction(1, 2)))
    groups = ceil(Fraction(ends, each))
    return TyingGroups(each, groups, ends - each * (groups - 1))


def runs_of(keys: Iterable[str]) -> list[tuple[int, str]]:
    """(number, key) from the left, like neighbours merged."""
    runs: list[tuple[int, str]] = []
    for key in keys:
        if runs and runs[-1][1] == key:
            runs[-1] = (runs[-1][0] + 1, key)
        else:
            runs.append((1, key))
    return runs
