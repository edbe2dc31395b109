"""The one exception by which calc refuses, with enough in it for a form to point at the spot."""

from __future__ import annotations


class CalcError(ValueError):
    """A value that cannot be used.

    `field` names the input (as the dataclass or function calls it, "" when the caller knows it),
    `position` is the 1-based character in a typed text where reading failed, or None.
    The message says what was wrong and what would be accepted; it is shown to people as it is.
    """

    def __init__(self, message: str, *, field: str = "", position: int | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field
        self.position = position
