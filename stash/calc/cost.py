"""What is left of a package, at what it cost."""

from __future__ import annotations

from fractions import Fraction

from stash.calc.errors import CalcError


def cost_left(price_cents: int, left_mg: int, whole_mg: int) -> Fraction:
    """The price in proportion to what is left of `whole_mg`, exact cents; never more than was paid.

    Yarn does not grow: where the scale finds more than came, the package is whole. Raises CalcError.
    """
    for value, field in ((price_cents, "price_cents"), (left_mg, "left_mg")):
        if value < 0:
            raise CalcError("It cannot be below 0.", field=field)
    if whole_mg <= 0:
        raise CalcError("A whole package weighs more than nothing.", field="whole_mg")
    return Fraction(price_cents * min(left_mg, whole_mg), whole_mg)
