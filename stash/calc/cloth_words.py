"""The cloth in words, for those who do not see its picture."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from stash.calc.draft import Interlacing

# A longer order is cut off here; the warping ticket has it in full.
MOST_STRIPES = 12


def describe_cloth(structure: Interlacing, ends: Sequence[str], picks: Sequence[str]) -> str:
    """Structure, colour order and pick order as sentences; `ends` and `picks` are shade names, one a thread.

    An order that repeats is told once, with the number of its repeats.
    """
    name = structure.name[:1].upper() + structure.name[1:]
    warp = f"Warp from the left, {_count(len(ends), 'end')}: {_order(ends)}."
    if list(ends) == list(picks):
        return f"{name}. {warp} The weft follows the same order."
    return f"{name}. {warp} Weft from the first pick, {_count(len(picks), 'pick')}: {_order(picks)}."


def shortest_repeat(threads: Sequence[str]) -> int:
    """The least number of threads after which the order begins anew (a last repeat may be cut short)."""
    # The border of each beginning, as in the search for a word in a text by Knuth, Morris and Pratt.
    border = [0] * len(threads)
    length = 0
    for place in range(1, len(threads)):
        while length and threads[place] != threads[length]:
            length = border[length - 1]
        if threads[place] == threads[length]:
            length += 1
        border[place] = length
    return len(threads) - border[-1] if threads else 0


def _order(threads: Sequence[str]) -> str:
    if len(set(threads)) == 1:
        return f"all {threads[0]}"
    repeat = shortest_repeat(threads)
    whole, rest = divmod(len(threads), repeat)
    # Seen as a repeat only if it comes round twice; else it is told as it stands.
    if whole < 2:
        return _stripes(threads)
    told = f"{_stripes(threads[:repeat])}; {whole} times"
    return f"{told} and {rest} more" if rest else told


def _stripes(threads: Sequence[str]) -> str:
    runs = [f"{len(list(run))} {name}" for name, run in groupby(threads)]
    if len(runs) > MOST_STRIPES:
        return ", ".join(runs[:MOST_STRIPES]) + ", and so on"
    return ", ".join(runs)


def _count(number: int, word: str) -> str:
    return f"{number:,} {word}" if number == 1 else f"{number:,} {word}s"
