"""Terms of a supplier: least value of an order, carriage, and from where on that costs nothing. Whole cents."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Terms:
    """None where there is none, or it is not known."""

    minimum_cents: int | None = None
    carriage_cents: int | None = None
    free_from_cents: int | None = None

    def carriage_of(self, value_cents: int) -> int:
        """Nothing where it is not known."""
        if self.free_from_cents is not None and value_cents >= self.free_from_cents:
            return 0
        return self.carriage_cents or 0

    def under_minimum(self, value_cents: int) -> int:
        """So much is missing; 0 where nothing is."""
        return max(0, (self.minimum_cents or 0) - value_cents)

    def under_free(self, value_cents: int) -> int:
        """What more would save the carriage; 0 where it is saved, or never is."""
        if not self.carriage_cents or self.free_from_cents is None:
            return 0
        return max(0, self.free_from_cents - value_cents)
