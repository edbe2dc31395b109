"""Cells of text files that a spreadsheet program would run as formulas.

Such a program takes a cell that begins with one of these signs for a formula, also out of a CSV file, and a
formula may reach other files and addresses. So what people typed is written with an apostrophe before it,
and the apostrophe is taken off again when such a file comes back.
"""

from __future__ import annotations

# The full-width forms too: some programs fold them.
_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def _runs(text: str) -> bool:
    return text.startswith(_STARTS) or text.lstrip(" ").startswith(_STARTS)


def harmless(text: str) -> str:
    """`text` as it may stand in a CSV file."""
    return f"'{text}" if _runs(text.lstrip("'")) else text


def restored(text: str) -> str:
    """What `harmless` was given."""
    return text[1:] if text.startswith("'") and _runs(text.lstrip("'")) else text
