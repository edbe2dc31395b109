"""The two small drawings that stand in every list: a shade's card of thread, and its stock bar.

Written as strings, not as templates: a page of fifty shades draws a hundred of them. Only fill and geometry
are attributes, all else is in parts.css, since the security policy admits no style in the page.
"""

import re
from functools import lru_cache

from django import template
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from stash.calc.bar import Span
from stash.calc.bar import stock_bar as lay_out

register = template.Library()

COLOUR = re.compile(r"#[0-9a-fA-F]{6}")
THREADS = "".join(f"M{x} 1V29" for x in (5.5, 10.5, 15.5, 20.5, 25.5, 30.5))


def _fill(colour: str | None) -> str:
    """The shade's colour if it has a readable one, else nothing (the drawing says so by its outline)."""
    return colour if colour and COLOUR.fullmatch(colour) else ""


@register.simple_tag
@lru_cache(maxsize=4096)
def chip(colour: str | None = None, size: str = "") -> SafeString:
    """A card wrapped with parallel threads of the shade; blank and dashed for a shade without a colour.

    `colour` is "#rrggbb"; `size` is "" or "large". The name stands beside it, so it is hidden from ears.
    """
    fill = _fill(colour)
    kind = f"chip{' large' if size == 'large' else ''}{'' if fill else ' blank'}"
    threads = (
        f'<rect width="34" height="30" fill="{fill}"/><path class="threads" d="{THREADS}"/>' if fill else ""
    )
    return mark_safe(
        f'<svg class="{kind}" viewBox="0 0 34 30" aria-hidden="true">{threads}'
        '<rect class="card" x=".5" y=".5" width="33" height="29" rx="1.5"/></svg>'
    )


@register.simple_tag
def stock_bar(
    colour: str | None,
    free: int,
    reserved: int = 0,
    on_order: int = 0,
    keep: int = 0,
    need: int | None = None,
    scale: int = 0,
    label: str = "",
) -> SafeString:
    """The stock bar of one shade, amounts in one whole unit; `free` is negative when undercut by a weigh-in.

    `label` says the figures in words and units, for those who do not see the bar.
    """
    bar = lay_out(
        free=free,
        reserved=reserved or 0,
        on_order=on_order or 0,
        keep=keep or 0,
        need=need,
        scale=scale or 0,
    )
    fill = _fill(colour)
    paint = f'fill="{fill}"' if fill else ""
    bare = "" if fill else " uncoloured"
    parts = ['<line class="base" x1="0" y1="27.5" x2="100%" y2="27.5"/>']
    if bar.free:
        parts.append(_rect(bar.free, f"free{bare}", paint))
    if bar.reserved:
        parts.append(_rect(bar.reserved, f"reserved{bare}", paint))
        parts.append(_rect(bar.reserved, "over"))
    if bar.on_order:
        parts.append(_rect(bar.on_order, "order"))
    if bar.keep is not None:
        parts.append(
            f'<svg x="{_percent(bar.keep)}" y="23" width="1" height="7" overflow="visible">'
            '<path class="keep" d="M-4.5 6.5 0 0 4.5 6.5z"/></svg>'
        )
    if bar.undercut:
        parts.append(_overhang(bar.undercut))
    if bar.missing:
        parts.append(_overhang(bar.missing))
    elif bar.need is not None:
        parts.append(_upright(bar.need, "need"))
    if bar.cut:
        # A gap in the far end: the bar goes on, the scale does not.
        parts.append(
            '<svg x="100%" y="4" width="1" height="21" overflow="visible">'
            '<path class="gap" d="M-9 21-4 0"/><path class="tear" d="M-12 21-7 0M-6 21-1 0"/></svg>'
        )
    head = f'<svg class="bar" width="100%" height="30" role="img" aria-label="{escape(label)}">'
    return mark_safe(f"{head}{''.join(parts)}</svg>")


def _percent(thousandths: int) -> str:
    return f"{thousandths / 10:g}%"


def _rect(span: Span, kind: str, paint: str = "") -> str:
    start, width = _percent(span.start), _percent(span.width)
    return f'<rect class="{kind}" x="{start}" y="7.5" width="{width}" height="15" {paint}/>'


def _upright(place: int, kind: str) -> str:
    at = _percent(place)
    halo = f'<line class="halo" x1="{at}" y1="4" x2="{at}" y2="26"/>'
    return f'{halo}<line class="{kind}" x1="{at}" y1="1" x2="{at}" y2="26"/>'


def _overhang(span: Span) -> str:
    start, end = _percent(span.start), _percent(span.end)
    return f'<line class="missing" x1="{start}" y1="2.5" x2="{end}" y2="2.5"/>' + _upright(
        span.end, "missing"
    )
