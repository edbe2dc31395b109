"""QR codes (ISO/IEC 18004) as drawings in a page: geometry and fill alone, since the policy admits no style."""

import segno
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

# Modules of white around a code; the standard asks for four.
QUIET = 4


def qr_svg(text: str, label: str) -> SafeString:
    """`text` as a code, black on white with its white rim; `label` says for ears what it holds.

    Error correction is M or better: pencil and a thumb mark do not spoil it.
    """
    rows = [bytes(row) for row in segno.make(text, error="m", micro=False).matrix]
    size = len(rows) + 2 * QUIET
    return mark_safe(
        f'<svg class="qr" viewBox="0 0 {size} {size}" role="img" aria-label="{escape(label)}">'
        f'<rect width="{size}" height="{size}" fill="#fff"/>'
        f'<path fill="#000" shape-rendering="crispEdges" d="{_dark(rows)}"/></svg>'
    )


def _dark(rows: list[bytes]) -> str:
    """Dark modules as rectangles, one a run: neighbours drawn apart would leave hairlines on paper."""
    path = []
    for y, row in enumerate(rows, QUIET):
        start = None
        for x, dark in enumerate((*row, 0)):
            if dark and start is None:
                start = x
            elif not dark and start is not None:
                path.append(f"M{start + QUIET} {y}h{x - start}v1h-{x - start}z")
                start = None
    return "".join(path)
