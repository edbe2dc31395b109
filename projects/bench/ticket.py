"""The warping ticket: passes, the packages of each, bouts, and what should remain."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from projects.bench.packages import Packages, TicketCone
from stash.calc.board import BoardPath, board_path
from stash.calc.bouts import Bout, part_into_bouts, usual_bout
from stash.calc.layout import End
from stash.calc.needs import ACCENT_ENDS, WorkedPlan
from stash.calc.passes import Pass, Starts, Winding, both_starts, wind
from stash.calc.repeats import gather_repeats
from stash.calc.serving import Over, Package, Serving, Thread, serve


@dataclass(frozen=True, slots=True)
class Choices:
    """How the warp is to be wound. Lengths in um; `bout` None is the usual size."""

    at_once: int = 2
    single_first: bool = False
    bout: int | None = None
    like_singly: bool = False
    """Like ends are wound one by one from one package, instead of at once from several."""
    accents_apart: bool = False
    step_um: int | None = None
    """What one width of the board measures, or one turn of the mill."""
    longest_um: int | None = None
    most_ends: int | None = None
    """Ends that the board holds in one chain."""


@dataclass(frozen=True, slots=True)
class Line:
    """What is wound in one go from the same packages: one tap on the phone. Numbers count from 1."""

    number: int
    passes: int
    threads: tuple[Thread, ...]
    ends: int
    ends_so_far: int
    """In this warp on this beam."""
    bout: int
    last_of_bout: bool


@dataclass(frozen=True, slots=True)
class Row:
    """Lines that come so many `times` one after the other, as paper has them."""

    times: int
    lines: tuple[Line, ...]
    """One round of them."""
    first: int
    last: int
    ends: int
    ends_so_far: int
    bout: int
    begins_bout: bool

    @property
    def boxes(self) -> range:
        """A box for each time, while they can be counted at a glance."""
        return range(self.times if self.times <= 30 else 1)


@dataclass(frozen=True, slots=True)
class Block:
    """Bouts one after the other that are wound alike, as paper has them: written once."""

    first: int
    last: int
    rows: tuple[Row, ...]
    """Of one bout; where there are several, what is wound so far counts in the bout."""
    ends: int
    """In each."""
    ends_so_far: int
    """After the last."""

    @property
    def times(self) -> int:
        return self.last - self.first + 1

    @property
    def boxes(self) -> range:
        return range(self.times)


@dataclass(frozen=True, slots=True)
class Apart:
    """Ends wound apart and laid in at the loom: floating selvedges, accents."""

    key: str
    numbers: tuple[int, ...]
    """Which ends of the warp they are, counted from 1."""
    packages: tuple[Package | None, ...]
    floating: bool

    @property
    def ends(self) -> int:
        return len(self.numbers)


@dataclass(frozen=True, slots=True)
class BeamTicket:
    """The ends of one beam in one warp."""

    beam: int
    warp: int
    warp_um: int
    path: BoardPath | None
    too_long: bool
    winding: Winding
    starts: Starts
    bouts: tuple[Bout, ...]
    lines: tuple[Line, ...]
    blocks: tuple[Block, ...]
    apart: tuple[Apart, ...]

    @property
    def ends(self) -> int:
        return self.winding.ends + sum(one.ends for one in self.apart)

    @property
    def changes(self) -> int:
        """How often a package is put in another's place at the peg: a knot, and 6 to 8 in of each thread."""
        hands = [{thread.package for thread in line.threads} for line in self.lines]
        return sum(bool(now - before) for before, now in pairwise(hands))


@dataclass(frozen=True)
class Ticket:
    choices: Choices
    beams: tuple[BeamTicket, ...]
    """Beam by beam, warp by warp."""
    warps: int
    packages: Packages
    serving: Serving
    warps_um: Mapping[str, int]
    """Length of an end by key."""

    @cached_property
    def lines(self) -> list[Line]:
        return [line for beam in self.beams for line in beam.lines]

    @cached_property
    def cones(self) -> Mapping[int, TicketCone]:
        return self.packages.by_id()

    @property
    def passes(self) -> int:
        return sum(len(beam.winding.passes) for beam in self.beams)

    @property
    def bouts(self) -> int:
        return sum(len(beam.bouts) for beam in self.beams)

    @property
    def overs(self) -> Sequence[Over]:
        return self.serving.overs


def ends_by_beam(worked: WorkedPlan) -> dict[int, list[End]]:
    """The ends of the warp from the left, apart for every beam."""
    found: dict[int, list[End]] = {}
    for end in worked.layout.each():
        found.setdefault(worked.plan.beam_of(end.key), []).append(end)
    return dict(sorted(found.items()))


def passes_and_bouts(worked: WorkedPlan, at_once: int) -> tuple[int, int]:
    """For a line on the project's page: passes and bouts of one warp, wound in the usual way."""
    passes = bouts = 0
    for ends in ends_by_beam(worked).values():
        keys = [end.key for end in ends if end.part != "floating"]
        if keys:
            winding = wind(keys, at_once)
            passes += len(winding.passes)
            size = max(at_once, usual_bout(worked.plan.sett))
            cut = [(one.ends, tuple(sorted(one.keys))) for one in winding.passes]
            repeat, offset = _repeat_of(worked)
            bouts += len(part_into_bouts(cut, size, repeat=repeat, before=offset))
    return passes, bouts


def _repeat_of(worked: WorkedPlan) -> tuple[int, int]:
    """Ends of a repeat and those wound before the first; 0 where the warp is no row of repeats on one beam."""
    plan = worked.plan
    if not plan.order_fills or plan.accents or plan.beams:
        return 0, 0
    body = next(one for one in worked.layout.stretches if one.part == "body")
    return plan.order.length, body.at - plan.selvedges.floating


@dataclass(frozen=True, slots=True)
class Plain:
    """The warp cut into passes, before any package is named: each beam of each warp, and all passes in a row."""

    cuts: Sequence["_Cut"]
    starts: Mapping[int, Starts]
    """By beam."""
    passes: Sequence[Pass]


def cut_warp(worked: WorkedPlan, choices: Choices) -> Plain:
    """Raises CalcError naming the choice to change."""
    cuts: list[_Cut] = []
    by_beam = ends_by_beam(worked)
    for warp in range(1, worked.plan.warps + 1):
        for beam, ends in by_beam.items():
            cuts.append(_Cut(beam, warp, ends, _apart(ends, worked, choices)))
    windings: dict[int, Starts] = {}
    for cut in cuts:
        if cut.beam not in windings:
            limits = dict.fromkeys((end.key for end in cut.main), 1) if choices.like_singly else None
            windings[cut.beam] = both_starts([end.key for end in cut.main], choices.at_once, limits)
    served: list[Pass] = []
    for cut in cuts:
        served += _chosen(windings[cut.beam], choices).passes
        served += [Pass((end.key,), end.number) for end in cut.apart]
    return Plain(cuts, windings, served)


def make_ticket(worked: WorkedPlan, plain: Plain, packages: Packages, choices: Choices) -> Ticket:
    """The ticket for all like warps of the plan; raises CalcError naming the choice to change."""
    cuts, windings = plain.cuts, plain.starts
    serving = serve(plain.passes, packages.holds)
    beams: list[BeamTicket] = []
    at = number = 0
    for cut in cuts:
        starts = windings[cut.beam]
        winding = _chosen(starts, choices)
        passes = serving.passes[at : at + len(winding.passes)]
        at += len(winding.passes)
        apart = _apart_of(cut, serving.passes[at : at + len(cut.apart)])
        at += len(cut.apart)
        beam = _beam(cut, starts, winding, passes, apart, number, worked, choices)
        number += len(beam.lines)
        beams.append(beam)
    lengths = {key: worked.length_of(key).warp_um for key in worked.ends_by_key}
    return Ticket(choices, tuple(beams), worked.plan.warps, packages, serving, lengths)


@dataclass(frozen=True, slots=True)
class _Cut:
    beam: int
    warp: int
    ends: Sequence[End]
    apart: Sequence[End]

    @property
    def main(self) -> list[End]:
        aside = {end.number for end in self.apart}
        return [end for end in self.ends if end.number not in aside]


def _apart(ends: Sequence[End], worked: WorkedPlan, choices: Choices) -> list[End]:
    """Floating ends always, accents if so chosen; but never all that a beam has."""
    floating = [end for end in ends if end.part == "floating"]
    if choices.accents_apart:
        few = {key for key, number in worked.ends_by_key.items() if number <= ACCENT_ENDS}
        found = [end for end in ends if end.part in ("floating", "accent") or end.key in few]
        if len(found) < len(ends):
            return found
    return floating if len(floating) < len(ends) else []


def _chosen(starts: Starts, choices: Choices) -> Winding:
    return starts.single_first if choices.single_first else starts.full_first


def _apart_of(cut: _Cut, passes: Sequence[tuple[Thread, ...]]) -> tuple[Apart, ...]:
    groups: dict[tuple[str, bool], list[tuple[int, Package | None]]] = {}
    for end, (thread,) in zip(cut.apart, passes, strict=True):
        groups.setdefault((end.key, end.part == "floating"), []).append((end.number + 1, thread.package))
    return tuple(
        Apart(
            key,
            tuple(number for number, _ in members),
            tuple(dict.fromkeys(package for _, package in members)),
            floating,
        )
        for (key, floating), members in groups.items()
    )


def _beam(
    cut: _Cut,
    starts: Starts,
    winding: Winding,
    passes: Sequence[tuple[Thread, ...]],
    apart: tuple[Apart, ...],
    before: int,
    worked: WorkedPlan,
    choices: Choices,
) -> BeamTicket:
    hands = [_in_hand(one, choices.at_once) for one in passes]
    size = choices.bout or max(choices.at_once, usual_bout(worked.plan.sett, choices.most_ends))
    repeat, offset = _repeat_of(worked)
    bouts = part_into_bouts([(len(hand), hand) for hand in hands], size, repeat=repeat, before=offset)
    lines = _lines(hands, bouts, before)
    warp_um = worked.lengths[cut.beam].warp_um
    return BeamTicket(
        beam=cut.beam,
        warp=cut.warp,
        warp_um=warp_um,
        path=board_path(warp_um, choices.step_um) if choices.step_um else None,
        too_long=choices.longest_um is not None and warp_um > choices.longest_um,
        winding=winding,
        starts=starts,
        bouts=bouts,
        lines=tuple(lines),
        blocks=tuple(_blocks(lines)),
        apart=apart,
    )


def _in_hand(threads: tuple[Thread, ...], at_once: int) -> tuple[Thread, ...]:
    """Of two threads each keeps its side: within a pair the threader picks the order at the cross.

    With three and more a paddle keeps them in the order in which they are threaded (common practice).
    """
    if at_once > 2:
        return threads
    return tuple(
        sorted(
            threads, key=lambda one: (len(one.key), one.key, one.package is None, one.package or Package(0))
        )
    )


def _lines(hands: Sequence[tuple[Thread, ...]], bouts: Sequence[Bout], before: int) -> list[Line]:
    lines: list[Line] = []
    so_far = 0
    for number, bout in enumerate(bouts, start=1):
        at, stop = bout.first_pass, bout.first_pass + bout.passes
        while at < stop:
            end = at + 1
            while end < stop and hands[end] == hands[at]:
                end += 1
            ends = (end - at) * len(hands[at])
            so_far += ends
            lines.append(
                Line(before + len(lines) + 1, end - at, hands[at], ends, so_far, number, end == stop)
            )
            at = end
    return lines


def _blocks(lines: Sequence[Line]) -> list[Block]:
    by_bout: dict[int, list[Line]] = {}
    for line in lines:
        by_bout.setdefault(line.bout, []).append(line)
    bouts = list(by_bout.values())
    blocks = []
    for again in gather_repeats([_content(bout) for bout in bouts], longest=1):
        first, last = bouts[again.first], bouts[again.first + again.times - 1]
        ends = sum(line.ends for line in first)
        relative = first[0].ends_so_far - first[0].ends if again.times > 1 else 0
        blocks.append(
            Block(first[0].bout, last[0].bout, tuple(_rows(first, relative)), ends, last[-1].ends_so_far)
        )
    return blocks


def _content(lines: Sequence[Line]) -> tuple[tuple[int, tuple[Thread, ...]], ...]:
    return tuple((line.passes, line.threads) for line in lines)


def _rows(lines: Sequence[Line], before: int) -> list[Row]:
    """The lines of one bout; what is wound so far is counted after the first `before` ends."""
    rows = []
    for again in gather_repeats(_content(lines), fewest_times=3):
        stretch = lines[again.first : again.first + again.length]
        rows.append(
            Row(
                times=again.times,
                lines=tuple(stretch[: len(again.items)]),
                first=stretch[0].number,
                last=stretch[-1].number,
                ends=sum(line.ends for line in stretch),
                ends_so_far=stretch[-1].ends_so_far - before,
                bout=stretch[0].bout,
                begins_bout=again.first == 0,
            )
        )
    return rows
