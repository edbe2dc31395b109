"""What a structure means for a plan, in words: its shafts, how its threading fills the warp, how long its floats are."""

from collections.abc import Iterator

from projects.cloth import thread_um
from projects.wording import counted
from stash.calc.draft import Draft, Interlacing, longest_floats
from stash.calc.needs import WorkedPlan
from stash.calc.writing import Measures

LONG_FLOAT_UM = 12_700
"""A float of half an inch or more catches in use (common practice, no source)."""


def floats_in_words(worked: WorkedPlan, weave: Interlacing, measures: Measures) -> str:
    """The longest floats in threads and in length on the loom."""
    end_um, pick_um = thread_um(worked)
    floats = longest_floats(weave)
    warp, weft = (
        measures.short_length(um) for um in (floats.warp_picks * pick_um, floats.weft_ends * end_um)
    )
    return (
        f"Longest floats on the loom: warp over {counted(floats.warp_picks, 'pick')} ({warp}), weft over "
        f"{counted(floats.weft_ends, 'end')} ({weft})."
    )


def weave_remarks(worked: WorkedPlan, weave: Interlacing, measures: Measures) -> Iterator[str]:
    """What to know before threading; nothing for most plans in a common structure."""
    end_um, pick_um = thread_um(worked)
    floats = longest_floats(weave)
    for what, threads, word, step in (
        ("warp", floats.warp_picks, "pick", pick_um),
        ("weft", floats.weft_ends, "end", end_um),
    ):
        if threads > 1 and threads * step >= LONG_FLOAT_UM:
            yield (
                f"The {what} floats over {counted(threads, word)}, {measures.short_length(threads * step)} on the loom: "
                f"floats of {measures.short_length(LONG_FLOAT_UM)} and more catch easily in use."
            )
    if isinstance(weave, Draft):
        whole, rest = divmod(worked.layout.heddles, weave.ends)
        if rest:
            yield (
                f"The threading of {counted(weave.ends, 'end')} goes into the warp {counted(whole, 'time')}, and "
                f"{counted(rest, 'end')} of it once more: the right edge stops within a repeat."
            )
