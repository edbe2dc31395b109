"""Fibre content typed as one line."""

from __future__ import annotations

import pytest

from stash.calc.errors import CalcError
from stash.calc.fibres import read_fibres, write_fibres


@pytest.mark.parametrize(
    ("text", "shares"),
    [
        ("", {}),
        ("   ", {}),
        ("cotton", {"cotton": 100}),
        ("100 % Cotton", {"cotton": 100}),
        ("60 % cotton, 40 % linen", {"cotton": 60, "linen": 40}),
        ("60% cotton;40% linen", {"cotton": 60, "linen": 40}),
        ("cotton 60 %, tow linen 40", {"cotton": 60, "tow linen": 40}),
        ("60cotton + 40linen", {"cotton": 60, "linen": 40}),
        ("55 % laine mérinos\n45 % soie", {"laine mérinos": 55, "soie": 45}),
    ],
)
def test_fibres_are_read_as_people_type_them(text: str, shares: dict[str, int]) -> None:
    assert read_fibres(text) == shares


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("60 % cotton, 30 % linen", "add up to 90 %"),
        ("cotton, linen", "How many per cent are “cotton”"),
        ("60 % cotton, linen", "How many per cent are “linen”"),
        ("60 %, 40 % linen", "“60 %” names no fibre"),
        ("50 % cotton, 50 % Cotton", "“cotton” stands there twice"),
        ("62.5 % cotton, 37.5 % linen", "“62.5” is not a whole per cent"),
        ("0 % cotton, 100 % linen", "“0” cannot be a share"),
        ("101 % cotton", "“101” cannot be a share"),
        ("99999999999999999999 % cotton", "cannot be a share"),
        ("60 % cotton,, 40 % linen", "a fibre is missing"),
        ("60 % cotton/linen", "“/” cannot stand in the name"),
        ("-60 % cotton, 40 % linen", "How many per cent are “-60 % cotton”"),
        ("x" * 41, "too long for a fibre"),
        ("x" * 201, "too long"),
    ],
)
def test_what_cannot_be_read_is_refused_by_name(text: str, says: str) -> None:
    with pytest.raises(CalcError, match=says) as refused:
        read_fibres(text)
    assert refused.value.field == "fibres"


@pytest.mark.parametrize(
    "shares", [{"cotton": 100}, {"cotton": 60, "linen": 40}, {"tow linen": 1, "silk": 99}]
)
def test_fibres_written_are_read_back_the_same(shares: dict[str, int]) -> None:
    assert read_fibres(write_fibres(shares)) == shares
