"""The chart of what is free from day to day, drawn as the stock bar is: in per cent across, in px down.

So letters and strokes keep their size however wide the page is, and nothing but fill and geometry is an attribute; all
else is in ahead.css. A library of charts (leather writes neither style nor script) draws to a fixed
width, which a phone shrinks with its letters, and knows neither the shade's colour nor the dark.
"""

from django import template
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from projects.ahead import Ahead
from stash.calc.projection import Kind
from stash.calc.time_chart import HEIGHT, WIDTH, TimeChart
from stash.templatetags.stash_draw import _fill

register = template.Library()

ROW, AXIS, PLOT, SMALL = 19, 38, 190, 46
MARGIN = 62
# Names hang a little above their line's foot, and the plot begins a little below them.
GAP = 8


@register.simple_tag
def time_chart(ahead: Ahead) -> SafeString:
    """The large one, with names, heights and months. Its label is the sentence that stands above it."""
    chart, colour = ahead.chart, ahead.colour
    top = chart.rows * ROW + GAP
    y = _Down(top, PLOT)
    foot = top + PLOT
    parts = [*_grid(chart, y), *_stock(chart, colour, y), *_lines(chart, y)]
    for mark in chart.marks:
        x = _across(mark.x)
        if mark.row is not None:
            base = mark.row * ROW + 14
            anchor = ' text-anchor="end" dx="-4"' if mark.ends else ' dx="4"'
            parts.append(
                f'<line class="leader" x1="{x}" y1="{base - 11}" x2="{x}" y2="{y(min(mark.y_before, mark.y_after))}"/>'
                f'<text class="name" x="{x}" y="{base}"{anchor}>{escape(mark.name)}</text>'
            )
        kind = "job" if mark.step.kind == Kind.JOB else "comes"
        parts.append(f'<circle class="mark {kind}" cx="{x}" cy="{y(mark.y_after)}" r="3.5"/>')
    parts += _months(chart, foot)
    height = foot + AXIS
    heights = f'<svg class="ahead-heights" width="{MARGIN}" height="{height}" aria-hidden="true">'
    heights += f"{''.join(_heights(ahead, y))}</svg>"
    plot = _svg("ahead-chart", height, ahead.label, parts)
    return mark_safe(f'<div class="ahead-plot rows-{chart.rows}">{heights}{plot}</div>')


@register.simple_tag
def time_chart_small(ahead: Ahead) -> SafeString:
    """The same as a strip without letters, for a row of a list: the sentence beside it says what it shows."""
    y = _Down(3, SMALL - 6)
    parts = [*_stock(ahead.chart, ahead.colour, y), *_lines(ahead.chart, y)]
    return _svg("ahead-chart small", SMALL, ahead.label, parts)


class _Down:
    """Heights of the plot in px, to a tenth."""

    def __init__(self, top: int, height: int) -> None:
        self.top, self.height = top, height

    def __call__(self, place: int) -> str:
        return f"{self.top + place * self.height * 10 // HEIGHT / 10:g}"


def _svg(kind: str, height: int, label: str, parts: list[str]) -> SafeString:
    head = f'<svg class="{kind}" width="100%" height="{height}" role="img" aria-label="{escape(label)}">'
    return mark_safe(f"{head}{''.join(parts)}</svg>")


def _across(place: int) -> str:
    return f"{place * 100 / WIDTH:.2f}%"


def _wide(start: int, end: int) -> str:
    return f'x="{_across(start)}" width="{_across(end - start)}"'


def _stock(chart: TimeChart, colour: str, y: _Down) -> list[str]:
    """What is free in the shade's colour, what is lacking hatched below the line."""
    fill = _fill(colour)
    paint = f' fill="{fill}"' if fill else ""
    kind = "stock" if fill else "stock uncoloured"
    zero, parts = float(y(chart.zero_y)), []
    for level in chart.levels:
        at, wide = float(y(level.y)), _wide(level.start, level.end)
        if at < zero:
            parts.append(f'<rect class="{kind}" {wide} y="{at:g}" height="{zero - at:.4g}"{paint}/>')
        elif at > zero:
            box = f'{wide} y="{zero:g}" height="{at - zero:.4g}"'
            parts.append(f'<rect class="lacking" {box}/><rect class="over" {box}/>')
    return parts


def _lines(chart: TimeChart, y: _Down) -> list[str]:
    """Nought, keep level, what is estimated, what is known: each over the one before."""
    parts = [_level("zero", chart.zero_y, y)]
    if chart.keep_y is not None:
        parts.append(_level("keep", chart.keep_y, y))
    if chart.level_y is not None:
        parts.append(_level("reorder", chart.level_y, y))
    # Under what is known, and twice, so that the dashes are seen on every shade.
    parts += [
        _line(kind, _across(slope.start), y(slope.start_y), _across(slope.end), y(slope.end_y))
        for kind in ("halo", "estimate")
        for slope in chart.slopes
    ]
    before = None
    for level in chart.levels:
        start, at = _across(level.start), y(level.y)
        if before is not None and before != at:
            parts.append(_line("known", start, before, start, at))
        parts.append(_line("known", start, at, _across(level.end), at))
        before = at
    return parts


def _level(kind: str, place: int, y: _Down) -> str:
    return _line(kind, "0", y(place), "100%", y(place))


def _line(kind: str, x1: str, y1: str, x2: str, y2: str) -> str:
    return f'<line class="{kind}" x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"/>'


def _grid(chart: TimeChart, y: _Down) -> list[str]:
    return [_level("grid", tick.y, y) for tick in chart.ticks if tick.mass_mg] + [
        f'<line class="month" x1="{_across(month.x)}" y1="{y(0)}" x2="{_across(month.x)}" y2="{y(HEIGHT)}"/>'
        for month in chart.months
    ]


def _heights(ahead: Ahead, y: _Down) -> list[str]:
    """Beside the plot, each at its line; the levels go before what they would run into."""
    chart = ahead.chart
    said: list[tuple[int, str]] = []
    for place, words in ((chart.keep_y, "keep"), (chart.level_y, "level"), *ahead.heights):
        if place is not None and all(abs(float(y(place)) - float(y(other))) >= 15 for other, _ in said):
            said.append((place, words))
    return [
        f'<text x="{MARGIN - 8}" y="{float(y(place)) + 4:g}" text-anchor="end">{escape(words)}</text>'
        for place, words in said
    ]


def _months(chart: TimeChart, foot: int) -> list[str]:
    """Below the plot, with the year where it begins."""
    parts = [f'<text class="day" x="0" y="{foot + 16}">Today</text>']
    for month in chart.months:
        # Beside "Today" there is no room for a month that begins within the first days.
        if month.x < WIDTH // 11 or month.x > WIDTH - WIDTH // 30:
            continue
        x = _across(month.x)
        # Where there is little room every second one is left out, January never: the year stands below it.
        every = "" if month.on.month % 2 or len(chart.months) < 8 else " between"
        if month.x < WIDTH // 5:
            every += " near"
        parts.append(f'<text class="day{every}" x="{x}" dx="2" y="{foot + 16}">{month.on:%b}</text>')
        if month.on.month == 1:
            parts.append(f'<text class="day{every}" x="{x}" dx="2" y="{foot + 32}">{month.on.year}</text>')
    return parts
