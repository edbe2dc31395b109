"""Moisture: regains against their sources (tests/references/regain.yaml), and what they do to a weight."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.regain import EU, Regain, blended, mass_at_regain, regain_of

pytestmark = pytest.mark.once

ITEMS: dict[str, dict[str, Any]] = yaml.safe_load(
    (Path(__file__).parent.parent / "references" / "regain.yaml").read_text(encoding="utf-8")
)
share = st.fractions(0, Fraction(1, 4), max_denominator=1000)


def figures(item: str) -> list[tuple[str, Fraction]]:
    return [(fibre, Fraction(str(value)) / 100) for fibre, value in ITEMS[item]["percent"].items()]


@pytest.mark.parametrize(("fibre", "percent"), figures("allowances"))
def test_the_upper_end_is_the_allowance_of_the_regulation(fibre, percent):
    known = regain_of(fibre)
    assert (known.high, known.high_source) == (percent, EU)


@pytest.mark.parametrize(("fibre", "percent"), [*figures("room"), *figures("astm")])
def test_the_lower_end_is_the_lowest_that_is_published(fibre, percent):
    assert regain_of(fibre).low == percent


def test_every_end_names_its_source():
    for item in ("room", "astm", "allowances"):
        for fibre, _ in figures(item):
            known = regain_of(fibre)
            assert known.low_source and known.high_source


def test_a_kilogram_of_wool_gains_what_the_worked_case_says():
    case = ITEMS["weighed-back"]
    then, now = Fraction(str(case["regain_from"])), Fraction(str(case["regain_to"]))
    gain = mass_at_regain(1_000_000, then, now) - 1_000_000
    assert abs(gain / 1000 - Fraction(str(case["damp_gain_g_per_kg"]))) <= Fraction(1, 20)


@given(st.integers(0, 10**9), share, share)
def test_damp_and_dried_again_is_as_before(mass_mg, then, now):
    assert mass_at_regain(mass_at_regain(mass_mg, then, now), now, then) == mass_mg


@pytest.mark.parametrize(
    ("name", "like"),
    [("Merino wool", "wool"), ("baby alpaca", "wool"), ("tussah-silk", "silk"), ("flax", "linen")],
)
def test_a_fibre_is_known_by_any_word_of_its_name(name, like):
    assert regain_of(name) == regain_of(like)


def test_a_fibre_that_the_table_does_not_know_has_no_regain():
    assert regain_of("steel") is None
    assert regain_of("") is None


def test_a_blend_holds_in_proportion():
    low, high = blended([("cotton", 60), ("linen", 40)])
    assert (low, high) == (Fraction(7, 100), Fraction(99, 1000))


def test_a_blend_of_the_unknown_is_unknown():
    assert blended([("cotton", 60), ("steel", 40)]) is None
    assert blended([]) is None


def test_a_range_that_runs_backwards_is_refused():
    with pytest.raises(CalcError, match="lower one first"):
        Regain(Fraction(2), EU, Fraction(1), EU)
