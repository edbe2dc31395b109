"""Text as it is searched: databases fold only ASCII alike, so we fold before storing."""

import unicodedata
from typing import Any

from django.db import models

NAMES = 200
NOTES = 1000


def words_of(text: str) -> list[str]:
    """Each word of a searched text, folded."""
    return [plain for word in text.split() if (plain := fold(word))]


def fold(*parts: str, most: int = NAMES) -> str:
    """Casefolded, without accents, single spaces; cut to what the search columns hold."""
    text = unicodedata.normalize("NFKD", " ".join(parts)).casefold()
    plain = "".join(sign for sign in text if not unicodedata.combining(sign))
    return " ".join(plain.split())[:most]


class FoldedField(models.CharField):  # type: ignore[type-arg]
    """The text of another field of its row as it is searched, folded whenever the row is saved.

    It only repeats that field, so no writer sets it, and rows made many at once have it too.
    """

    def __init__(self, source: str, **kwargs: Any) -> None:
        self.source = source
        super().__init__(**{"max_length": NOTES, "blank": True, "editable": False, "default": ""} | kwargs)

    def deconstruct(self) -> tuple[str, str, Any, Any]:
        name, path, args, kwargs = super().deconstruct()
        return name, path, [self.source, *args], kwargs

    def folded(self, text: str) -> str:
        return fold(text, most=self.max_length or NOTES)

    def pre_save(self, model_instance: models.Model, add: bool) -> str:
        text = self.folded(getattr(model_instance, self.source))
        setattr(model_instance, self.attname, text)
        return text
