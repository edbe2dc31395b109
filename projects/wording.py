"""Verdicts as sentences with figures. What is missing is rounded up, what is free is rounded down."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from projects.judging import Judged, ShadeLine
from stash.calc.most import Most
from stash.calc.packing import LotEnds
from stash.calc.verdict import Verdict
from stash.calc.writing import Measures


@dataclass(frozen=True, slots=True)
class Sentences:
    """`lead` is the verdict itself, `rest` goes on behind it, `more` are further sentences."""

    state: str
    lead: str
    rest: str = ""
    more: tuple[str, ...] = ()

    @property
    def whole(self) -> str:
        return " ".join(part for part in (self.lead, self.rest, *self.more) if part)


def together(words: Iterable[str]) -> str:
    """A, B and C."""
    listed = list(words)
    return listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} and {listed[-1]}" if listed else ""


def counted(number: int, one: str, many: str | None = None) -> str:
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def lot_word(lot: int | None, names: Mapping[int, str]) -> str:
    """Lot 7; one whose number is not known says so."""
    return "an unknown lot" if lot is None else f"lot {names.get(lot, '?')}"


def short_by(line: ShadeLine, measures: Measures) -> str:
    """Spruce by 960 yd of weft (207 g); Spruce by 24 warp ends, 288 yd (62 g)."""
    found = line.verdict
    long, mass = measures.long_length, measures.mass(found.short_mass_mg, "up")
    if found.short_ends and found.short_weft_um:
        return (
            f"{line.wanted} by {counted(found.short_ends, 'warp end')} and "
            f"{long(found.short_weft_um, 'up')} of weft, {long(found.short_um, 'up')} in all ({mass})"
        )
    if found.short_ends:
        return (
            f"{line.wanted} by {counted(found.short_ends, 'warp end')}, {long(found.short_um, 'up')} ({mass})"
        )
    return f"{line.wanted} by {long(found.short_um, 'up')} of weft ({mass})"


def why_short(line: ShadeLine, measures: Measures) -> str:
    """What there is against what is needed, in the unit that decides: whole ends for warp, length for weft."""
    found = line.verdict
    if not line.cones:
        return f"No cone of {line.shade.name} is on the shelf."
    lots = found.proposal.packing.lot_ends
    if line.wished and not lots:
        return f"Nothing of {line.wanted} can be taken.{_without_wish(line)}"
    if found.short_ends:
        served = sum(lot.ends for lot in lots)
        together_ids = {cone_id for lot in lots for cone_id in lot.cone_ids}
        cones = sum(1 for cone in line.cones if cone.free_mg and cone.id in together_ids)
        given_by = f"{counted(cones, 'cone')} of {line.wanted}"
        if line.need.wish == "cone":
            given_by = f"{line.wished.replace('on cone', 'Cone')} of {line.shade.name}"
        return (
            f"{given_by} {'gives' if cones == 1 or line.need.wish == 'cone' else 'give'} "
            f"{counted(served, 'whole end')} of {measures.warp_length(line.warp_um)}, "
            f"the plan needs {line.need.ends:,}.{_without_wish(line)}"
        )
    return (
        f"The plan needs {measures.long_length(line.need_um, 'up')} of {line.shade.name} without buffer; "
        f"{measures.long_length(found.free_um, 'down')} {'are' if found.free_um else 'is'} "
        f"free{_in_lots(line)}.{_rests(line)}{_without_wish(line)}"
    )


def _without_wish(line: ShadeLine) -> str:
    """What it would be if the shade might come from any lot, where the wish is in the way."""
    without = line.verdict.without_wish
    if without is None:
        return ""
    lots = "With lots mixed" if line.need.wish == "same" else "In any lot"
    return f" {lots} it would be {'enough' if without == Verdict.ENOUGH else 'tight'}."


def _in_lots(line: ShadeLine) -> str:
    if line.wished:
        return f" {line.wished}"
    lots = line.verdict.proposal.packing.lot_ends
    return f" in {len(lots)} lots" if len(lots) > 1 else ""


def _rests(line: ShadeLine) -> str:
    """Why more is missing than need less free: what is left of a lot, or of a cone, may be of no use."""
    if line.verdict.short_um <= max(0, line.need_um - line.verdict.free_um):
        return ""
    return " Not all of it serves: an end is cut whole, and the lot does not change inside a piece."


def lots_sentence(line: ShadeLine, names: Mapping[int, str] | None) -> str:
    """The warp of Spruce mixes lots: 88 ends of lot 7 and 18 ends of lot 9. Without `names` no lot is named."""
    if names is None:
        return f"The warp of {line.shade.name} mixes lots."
    taken: dict[int | None, int] = {}
    lot_of = _lot_of_cone(line)
    for part in line.verdict.proposal.lines:
        if part.use == "warp":
            lot = lot_of[part.cone_id]
            taken[lot] = taken.get(lot, 0) + part.ends
    listed = together(f"{counted(ends, 'end')} of {lot_word(lot, names)}" for lot, ends in taken.items())
    return f"The warp of {line.shade.name} mixes lots: {listed}."


def _lot_of_cone(line: ShadeLine) -> dict[int, int | None]:
    return {cone.id: cone.lot for cone in line.cones}


def verdict_sentences(
    judged: Judged, measures: Measures, lot_names: Mapping[int, str] | None = None, most: Sequence[str] = ()
) -> Sentences:
    """The project's verdict, worst shade first."""
    short, tight = judged.in_state(Verdict.SHORT), judged.in_state(Verdict.TIGHT)
    enough = judged.in_state(Verdict.ENOUGH)
    more = [lots_sentence(line, lot_names) for line in judged.mixed]
    more += [
        f"The weft of {line.shade.name} comes from another lot than its warp."
        for line in judged.lines
        if line.verdict.weft_other_lot and not line.verdict.lots_mixed and line.verdict.state != Verdict.SHORT
    ]
    if not judged.lines:
        return Sentences("tight", "No shades yet.", "Give each key of the order a shade of yarn.")
    if short:
        lead = f"Short of {together(short_by(line, measures) for line in short)}."
        rest = " ".join(why_short(line, measures) for line in short)
        others = _others(tight, enough)
        return Sentences("short", lead, f"{rest} {others}".strip(), (*most, *more))
    if tight:
        names_of = together(line.wanted for line in tight)
        rest = " ".join(
            f"The plan needs {measures.long_length(line.need_um, 'up')} of {line.shade.name}, with its buffer "
            f"{measures.long_length(line.buffered_um, 'up')}; "
            f"{measures.long_length(line.verdict.free_um, 'down')} are free"
            f"{f' {line.wished}' if line.wished else ''}.{_without_wish(line)}"
            for line in tight
        )
        lead = f"Tight on {names_of}: enough for the plan, not for {'its' if len(tight) == 1 else 'their'} whole buffer."
        return Sentences("tight", lead, f"{rest} {_others([], enough)}".strip(), (*more, *most))
    lead = (
        f"Enough {together(line.shade.name for line in enough)}, with the buffer."
        if len(enough) < 4
        else f"Enough of all {len(enough)} shades, with the buffer."
    )
    rest = "" if judged.mixed else "One lot of each in the warp." if _any_warp(judged) else ""
    return Sentences("enough", lead, rest, (*more, *most))


def _any_warp(judged: Judged) -> bool:
    return any(line.need.ends for line in judged.lines)


def _others(tight: list[ShadeLine], enough: list[ShadeLine]) -> str:
    parts = []
    if tight:
        parts.append(
            f"{together(line.shade.name for line in tight)} {'is' if len(tight) == 1 else 'are'} tight"
        )
    if enough:
        parts.append(
            f"{together(line.shade.name for line in enough)} {'is' if len(enough) == 1 else 'are'} enough"
        )
    return f"{together(parts)}." if parts else ""


def most_sentence(
    most: Most, judged: Judged, measures: Measures, planned: int, piece_name: str = "pieces", warps: int = 1
) -> str:
    """With what is free for it you can weave 9 mats; the next stops at Spruce weft, 75 yd missing."""
    things = "1 piece" if most.pieces == 1 else f"{most.pieces:,} {piece_name}"
    things += f" on each of {warps:,} warps" if warps > 1 else ""
    start = (
        f"With what is free for it you can weave {things}"
        if most.pieces
        else "With what is free for it you can weave none"
    )
    if most.stopping_key is None:
        return f"{start}: the shelf is no limit."
    names = {line.key: line.shade.name for line in judged.lines}
    name = names.get(most.stopping_key, most.stopping_key)
    missing = measures.long_length(most.missing_warp_um + most.missing_weft_um, "up")
    if most.missing_ends and most.missing_weft_um:
        stop = f"{name}: {counted(most.missing_ends, 'warp end')} and some weft missing, {missing} in all"
    elif most.missing_ends:
        stop = f"{name} warp: {counted(most.missing_ends, 'end')} missing, {missing}"
    else:
        stop = f"{name} weft: {missing} missing"
    return f"{start}; {'the first' if not most.pieces else 'one more'} stops at {stop}."


def shade_note(line: ShadeLine, names: Mapping[int, str]) -> str:
    """Under the name in the table: which lot serves what."""
    found = line.verdict
    ends = line.need.ends
    lots = found.proposal.packing.lot_ends
    if not line.cones:
        return "not on the shelf"
    if line.wished and not lots:
        return "nothing as wished can be taken"
    if not ends:
        served = len(found.proposal.weft_lots)
        if found.state == Verdict.SHORT:
            return "weft only"
        return f"weft only, from {'one lot' if served == 1 else counted(served, 'lot')}"
    if len(found.proposal.warp_lots) == 1 and not found.short_ends:
        word = lot_word(found.proposal.warp_lots[0], names)
        cones = {part.cone_id for part in found.proposal.lines if part.use == "warp"}
        which = "every end" if ends > 1 else "the end"
        from_one = ", from one cone" if len(cones) == 1 else ""
        return f"{word[0].upper()}{word[1:]} serves {which}{from_one}"
    shown = [lot for lot in lots if lot.ends] or list(lots)
    return f"{_served(shown, names)}, of {ends:,}"


def _served(lots: Sequence[LotEnds], names: Mapping[int, str]) -> str:
    known = [lot for lot in lots if lot.lot is not None]
    unknown = [lot for lot in lots if lot.lot is None]
    words = [f"{lot_word(lot.lot, names)} {lot.ends:,}" for lot in known]
    if unknown:
        total = sum(lot.ends for lot in unknown)
        words.append(f"{counted(len(unknown), 'unknown lot')} {total:,}")
    first, *others = words
    head = first.rsplit(" ", 1)
    sentence = together([f"{head[0]} serves {head[1]} whole ends", *others])
    return f"{sentence[0].upper()}{sentence[1:]}"


def flag(line: ShadeLine, measures: Measures) -> tuple[str, str]:
    """The state word at the end of a row: its class and its text."""
    found = line.verdict
    mixed = "; lots mixed" if found.lots_mixed else ""
    if found.state == Verdict.SHORT:
        parts = []
        if found.short_ends:
            parts.append(counted(found.short_ends, "end"))
        if found.short_weft_um:
            parts.append(f"{measures.long_length(found.short_weft_um, 'up')} of weft")
        return "short", f"short {' and '.join(parts)}{mixed}"
    if found.state == Verdict.TIGHT:
        return "tight", f"tight: not the whole buffer{mixed}"
    return ("tight", "enough; lots mixed") if found.lots_mixed else ("enough", "enough")


def open_sentence(judged: Judged) -> str:
    """`B has no shade yet.`"""
    return f"{together(judged.open_keys)} {'has' if len(judged.open_keys) == 1 else 'have'} no shade yet."


def one_line(judged: Judged, measures: Measures) -> str:
    """The verdict as it stands in a list."""
    short, tight = judged.in_state(Verdict.SHORT), judged.in_state(Verdict.TIGHT)
    mixed = f" Lots mixed in {together(line.shade.name for line in judged.mixed)}." if judged.mixed else ""
    if not judged.lines:
        return "No shades yet."
    if judged.open_keys and not short:
        return f"{open_sentence(judged)}{mixed}"
    if short:
        return f"Short of {together(short_by(line, measures) for line in short)}.{mixed}"
    if tight:
        return f"Tight on {together(line.wanted for line in tight)}.{mixed}"
    return f"Enough, with the buffer.{mixed}"
