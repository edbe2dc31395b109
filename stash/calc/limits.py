"""What a plan's figures may be: checks that several parts of a plan share."""

from __future__ import annotations

from fractions import Fraction

from stash.calc.errors import CalcError

KM_UM = 1_000_000_000


def check_within(name: str, value: int, least: int, most: int, what: str) -> None:
    if not least <= value <= most:
        raise CalcError(f"Give from {least:,} to {most:,} {what}.", field=name)


def check_length(name: str, value: int, least: int) -> None:
    """`least` is 1 where nothing will not do, else 0."""
    if value < least:
        raise CalcError(
            "Give a length of more than nothing." if least else "A length cannot be below 0.", field=name
        )
    if value >= KM_UM:
        raise CalcError("Give a length below 1 km (1,093 yd).", field=name)


def check_share(name: str, value: Fraction) -> None:
    if not 0 <= value <= 1:
        raise CalcError("Give a share from 0 to 100 %.", field=name)
