"""The weft sheet: a piece from its first pick, block by block, with the woven length after each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from stash.calc.colour_order import Item, Order, Repeat, Run
from stash.calc.repeats import gather_repeats
from stash.calc.sections import Section, SectionPart
from stash.calc.weft import Weft

LONGEST_GATHERED = 24


@dataclass(frozen=True, slots=True)
class Block:
    """What the pick order writes as one item, e.g. 8 times (1 A, 1 B)."""

    item: Item

    @property
    def text(self) -> str:
        return self.item.text

    @property
    def picks(self) -> int:
        return self.item.length


@dataclass(frozen=True, slots=True)
class Row:
    """Blocks woven one after the other, so many `times`; picks and length to here are those of the piece."""

    times: int
    blocks: tuple[Block, ...]
    picks: int
    """In this row."""
    picks_to_here: int
    woven_to_here_um: Fraction
    """On the loom, under tension."""

    @property
    def tenths(self) -> bool:
        """A box stands for ten times."""
        return 24 < self.times <= 240

    @property
    def boxes(self) -> range:
        """Boxes to tick: one for each time, of many one for every tenth, of very many a single one."""
        return range(self.times if self.times <= 24 else -(-self.times // 10) if self.tenths else 1)

    @property
    def text(self) -> str:
        written = ", ".join(block.text for block in self.blocks)
        return f"{self.times} times ({written})" if self.times > 1 else written


@dataclass(frozen=True, slots=True)
class SheetSection:
    part: SectionPart
    picks: int
    woven_um: Fraction
    rows: tuple[Row, ...]


def sheet_of(weft: Weft) -> tuple[SheetSection, ...]:
    """One piece, section by section. A length to here goes by picks: they are what is counted at the loom."""
    sections = []
    picks, woven = 0, Fraction(0)
    for section in weft.sections:
        if not section.picks:
            continue
        rows = []
        for times, blocks in _rows(section):
            number = times * sum(block.picks for block in blocks)
            picks += number
            woven += section.density.length_um_of(number)
            rows.append(Row(times, blocks, number, picks, woven))
        sections.append(
            SheetSection(
                section.part, section.picks, section.density.length_um_of(section.picks), tuple(rows)
            )
        )
    return tuple(sections)


def _rows(section: Section) -> Iterator[tuple[int, tuple[Block, ...]]]:
    blocks: list[Block] = []
    for stretch in section.stretches:
        for order, picks, times in stretch.passes():
            part: Order = order if picks == order.length else order.first(picks)
            blocks += [Block(item) for item in _blocks(part.items)] * times
    for again in gather_repeats(blocks, LONGEST_GATHERED):
        yield again.times, again.items


def _blocks(items: Iterable[Item]) -> Iterator[Item]:
    """Items as a weaver counts them: a repeat of repeats is taken apart, a repeat of runs is one block."""
    for item in items:
        if isinstance(item, Repeat) and not all(isinstance(part, Run) for part in item.items):
            inner = list(_blocks(item.items))
            for _ in range(item.times):
                yield from inner
        else:
            yield item


@dataclass(frozen=True, slots=True)
class TapeMark:
    """Where a piece begins and ends on a tape that runs along the web from the first pick; um on the loom."""

    piece: int
    begins_um: Fraction
    ends_um: Fraction


def tape_marks(
    pieces: int, woven_um: Fraction, gap_um: Fraction | int, before_um: Fraction | int = 0
) -> Sequence[TapeMark]:
    """Marks for pieces woven one after the other with `gap_um` between them; `before_um` lies before the first."""
    step = woven_um + gap_um
    return [
        TapeMark(number + 1, before_um + number * step, before_um + number * step + woven_um)
        for number in range(pieces)
    ]
