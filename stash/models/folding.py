"""Text as it is searched: databases fold only ASCII alike, so we fold before storing."""

import unicodedata


def fold(*parts: str) -> str:
    """Casefolded, without accents, single spaces; cut to what the search columns hold."""
    text = unicodedata.normalize("NFKD", " ".join(parts)).casefold()
    plain = "".join(sign for sign in text if not unicodedata.combining(sign))
    return " ".join(plain.split())[:200]
