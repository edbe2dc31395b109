"""What a page says: the words that a person reads or hears, and what stands in its inputs."""

from __future__ import annotations

from collections import Counter
from html.parser import HTMLParser

_SPOKEN = ("value", "alt", "aria-label")


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.said: Counter[str] = Counter()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        # Tokens that forms carry differ from answer to answer.
        if ("name", "csrfmiddlewaretoken") not in attrs:
            self.said.update(
                word for name, value in attrs if name in _SPOKEN for word in (value or "").split()
            )
        if tag in ("input", "select", "textarea", "svg", "rect", "a", "td", "button"):
            self.said[f"<{tag}>"] += 1

    def handle_data(self, data: str) -> None:
        self.said.update(data.split())


def _said(html: str) -> Counter[str]:
    reader = _Reader()
    # A part of a page comes without what stands around it.
    reader.feed(html.partition("<main")[2] or html)
    return reader.said


def share_said(page: str, floor: str) -> float:
    """How much of what the page says the floor says too, from 0 to 1."""
    there = _said(page)
    return (there & _said(floor)).total() / there.total()


def unsaid(page: str, floor: str) -> Counter[str]:
    """What the floor leaves out."""
    return _said(page) - _said(floor)
