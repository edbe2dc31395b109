"""The weave of a piece that is woven turned by 90 degrees: its picks become ends, and its ends picks."""

from __future__ import annotations

from collections.abc import Sequence

from stash.calc.cloth_words import shortest_repeat
from stash.calc.draft import DRAFT, MOST_SHAFTS, Draft, read_draft
from stash.calc.errors import CalcError
from stash.calc.structure import Structure, structures


def turned_weave(weave: Structure | Draft) -> tuple[str, Draft | None]:
    """The key of the structure, and the draft where it is one of its own.

    What lay over lies under, since warp and weft have changed places: 1/3 twill becomes 3/1 twill. A common
    structure may begin at another pick than the turned piece would. A draft that wants more than 40 shafts, or
    longer lines than can be kept, turned, raises CalcError (`structure`).
    """
    if isinstance(weave, Draft):
        return DRAFT, _turned_draft(weave)
    rows = tuple(tuple(not weave.up(pick, end) for end in range(weave.picks)) for pick in range(weave.ends))
    # A satin turned steps the other way; its mirror image is the nearest that has a name.
    for sides in (rows, tuple(row[::-1] for row in rows)):
        for key, known in structures().items():
            if (known.ends, known.picks) == (weave.picks, weave.ends) and _same(known.rows, sides):
                return key, None
    raise CalcError(f"{weave.name.capitalize()} has no name when it is turned.", field="structure")


def _same(known: Sequence[Sequence[bool]], rows: Sequence[Sequence[bool]]) -> bool:
    """The same weave, wherever it begins."""
    doubled = [[*row, *row] for row in (*rows, *rows)]
    ends, picks = len(rows[0]), len(rows)
    return any(
        all(list(known[pick]) == doubled[down + pick][right : right + ends] for pick in range(picks))
        for down in range(picks)
        for right in range(ends)
    )


def _turned_draft(weave: Draft) -> Draft:
    """Picks that lift alike become ends on one shaft; an end becomes a pick that lifts what it lay under."""
    shaft_of: dict[frozenset[int], int] = {}
    threading = [shaft_of.setdefault(lift, len(shaft_of) + 1) for lift in weave.lifts]
    if len(shaft_of) > MOST_SHAFTS:
        raise CalcError(
            f"Turned, this draft would take {len(shaft_of)} shafts, more than {MOST_SHAFTS}.",
            field="structure",
        )
    lifted = {
        shaft: "+".join(str(new) for lift, new in shaft_of.items() if shaft not in lift)
        for shaft in set(weave.threading)
    }
    lines = _line([str(shaft) for shaft in threading]), _line([lifted[shaft] for shaft in weave.threading])
    try:
        return read_draft(lines[0], lift_plan=lines[1])
    except CalcError as error:
        raise CalcError(f"This draft cannot be turned: {error.message}", field="structure") from error


def _line(steps: list[str]) -> str:
    """One repeat of them, since a line begins anew of itself."""
    repeat = shortest_repeat(steps)
    return ", ".join(steps[:repeat] if len(steps) % repeat == 0 else steps)
