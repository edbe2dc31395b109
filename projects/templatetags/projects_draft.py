"""The draft of a structure drawn on point paper: threading below, treadling to the right, the crossings between."""

from collections.abc import Iterable

from django import template
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from stash.calc.draft import Interlacing
from stash.calc.draft_chart import Chart, chart_of

register = template.Library()

CELL = 12
GAP = 8


@register.simple_tag
def draft_chart(weave: Interlacing) -> SafeString:
    """An SVG; its colours come from classes, so that it is read in the dark and on paper."""
    chart = chart_of(weave)
    ends, picks, right = len(chart.threading), len(chart.up), len(chart.treadles) or chart.shafts
    below, beside = picks * CELL + GAP, ends * CELL + GAP
    width, height = beside + right * CELL + 1, below + chart.shafts * CELL + 1
    parts = [
        _grid(0, 0, ends, picks),
        _grid(beside, 0, right, picks),
        _grid(0, below, ends, chart.shafts),
        _squares(
            (end * CELL, (picks - 1 - pick) * CELL)
            for pick, row in enumerate(chart.up)
            for end, up in enumerate(row)
            if up
        ),
        _squares(
            (beside + (number - 1) * CELL, (picks - 1 - pick) * CELL)
            for pick, pressed in enumerate(chart.treadling)
            for number in pressed
        ),
        _numbers(
            (end * CELL, below + (chart.shafts - shaft) * CELL, shaft)
            for end, shaft in enumerate(chart.threading)
        ),
    ]
    if chart.treadles:
        parts.append(_grid(beside, below, right, chart.shafts))
        parts.append(
            _squares(
                (beside + place * CELL, below + (chart.shafts - shaft) * CELL)
                for place, treadle in enumerate(chart.treadles)
                for shaft in treadle
            )
        )
    return mark_safe(
        f'<svg class="draft-chart" width="{width}" height="{height}" viewBox="-.5 -.5 {width} {height}" role="img" '
        f'aria-label="{escape(_in_words(chart))}">{"".join(parts)}</svg>'
    )


def _grid(x: int, y: int, across: int, along: int) -> str:
    lines = "".join(f"M{x + at * CELL} {y}v{along * CELL}" for at in range(across + 1))
    lines += "".join(f"M{x} {y + at * CELL}h{across * CELL}" for at in range(along + 1))
    return f'<path class="lines" d="{lines}"/>'


def _squares(places: Iterable[tuple[int, int]]) -> str:
    inner = CELL - 3
    return f'<path class="up" d="{"".join(f"M{x + 1.5} {y + 1.5}h{inner}v{inner}h-{inner}z" for x, y in places)}"/>'


def _numbers(places: Iterable[tuple[int, int, int]]) -> str:
    return "".join(
        f'<text x="{x + CELL / 2}" y="{y + CELL - 2.5}">{number}</text>' for x, y, number in places
    )


def _in_words(chart: Chart) -> str:
    threaded = f"Threading from the left: {', '.join(map(str, chart.threading))}."
    steps = ", ".join("+".join(map(str, sorted(step))) for step in chart.treadling)
    if not chart.treadles:
        return f"{threaded} Lifted, from the first pick: {steps}."
    tied = ", ".join("+".join(map(str, sorted(treadle))) for treadle in chart.treadles)
    return f"{threaded} Tie-up, treadle by treadle: {tied}. Treadling from the first pick: {steps}."
