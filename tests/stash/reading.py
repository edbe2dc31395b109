"""A page as a person reads it: its words, rows, links, fields and what stands at them."""

from html.parser import HTMLParser
from typing import Any

VOID = {"input", "meta", "link", "br", "img", "hr", "rect", "path", "line"}

BLOCKS = {"dt", "dd", "p", "li", "div", "h1", "h2", "h3", "td", "th", "a", "label", "small"}


class Read(HTMLParser):
    """`text`, `rows` (cells of every table row), `links` (address by text), `errors` (by field), `fields`.

    Search and signing out in the head of every page are no fields of it.
    """

    def __init__(self, response: Any) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.links: dict[str, str] = {}
        self.errors: dict[str, list[str]] = {}
        self.fields: dict[str, dict[str, str | None]] = {}
        self.forms: list[dict[str, str | None]] = []
        self.buttons: list[str] = []
        self.labels: list[str] = []
        self._words: list[str] = []
        self._open: list[tuple[str, dict[str, str | None], list[str]]] = []
        self.feed(response.content.decode())

    @property
    def text(self) -> str:
        return _tidy(self._words)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = dict(attrs)
        if tag == "tr":
            self.rows.append([])
        if tag == "form":
            self.forms.append(known)
        in_head = any(above.get("class") in ("find", "who") for _, above, _ in self._open)
        if tag in ("input", "select", "textarea") and "name" in known and not in_head:
            self.fields.setdefault(str(known["name"]), known)
        if known.get("aria-label"):
            self.labels.append(str(known["aria-label"]))
        if tag not in VOID:
            self._open.append((tag, known, []))

    def handle_data(self, data: str) -> None:
        self._words.append(data)
        for _, _, words in self._open:
            words.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag in BLOCKS:
            self._words.append(" ")
        if tag in VOID or not any(tag == name for name, _, _ in self._open):
            return
        while True:
            name, attrs, words = self._open.pop()
            self._close(name, attrs, _tidy(words))
            if name == tag:
                return

    def _close(self, tag: str, attrs: dict[str, str | None], text: str) -> None:
        if tag in ("td", "th") and self.rows:
            self.rows[-1].append(text)
        elif tag == "a" and attrs.get("href"):
            self.links.setdefault(text, str(attrs["href"]))
        elif tag == "button":
            self.buttons.append(text)
        elif tag == "ul" and "errorlist" in (attrs.get("class") or ""):
            name = (attrs.get("id") or "").removeprefix("id_").removesuffix("_error")
            self.errors.setdefault(name, []).append(text)
        elif tag == "textarea" and attrs.get("name"):
            self.fields[str(attrs["name"])]["value"] = text
        elif tag == "option" and "selected" in attrs:
            for name, above, _ in reversed(self._open):
                if name == "select" and above.get("name"):
                    self.fields[str(above["name"])]["value"] = attrs.get("value")
                    break

    def row(self, start: str) -> list[str]:
        """The one row whose first cell begins so."""
        found = [row for row in self.rows if row and row[0].startswith(start)]
        assert len(found) == 1, f"{len(found)} rows begin with {start!r}: {self.rows}"
        return found[0]

    def value(self, name: str) -> str:
        return self.fields[name].get("value") or ""

    def changing_forms(self) -> list[dict[str, str | None]]:
        """Forms that post, but for signing out."""
        return [form for form in self.forms if form.get("method") == "post" and form.get("class") != "who"]


def _tidy(words: list[str]) -> str:
    return " ".join("".join(words).split())
