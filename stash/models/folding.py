"""Text as it is searched: databases fold only ASCII alike, so we fold before storing."""

import unicodedata


def words_of(text: str) -> list[tuple[str, str]]:
    """Each word of a searched text, folded and as it was typed: notes are kept as they were written."""
    return [(plain, word) for word in text.split() if (plain := fold(word))]


def fold(*parts: str) -> str:
    """Casefolded, without accents, single spaces; cut to what the search columns hold."""
    text = unicodedata.normalize("NFKD", " ".join(parts)).casefold()
    plain = "".join(sign for sign in text if not unicodedata.combining(sign))
    return " ".join(plain.split())[:200]
