"""Figures as people read them, and form fields that read back to what they were."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.counts import Count, CountSystem
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.quantity import (
    MOST_MG,
    MOST_UM,
    read_density,
    read_grist,
    read_length,
    read_mass,
    read_percent,
    read_whole,
)
from stash.calc.writing import (
    Measures,
    decimal,
    density,
    field_percent,
    field_whole,
    number,
    percent,
    rounded,
)

pytestmark = pytest.mark.once

YD = 914_400
IMPERIAL = Measures()
METRIC = Measures("metric", "g")
OUNCES = Measures("imperial", "oz")
ALL = [IMPERIAL, METRIC, OUNCES, Measures("metric", "oz")]


@pytest.mark.parametrize(
    ("um", "rounding", "text"),
    [
        (2500 * YD, "nearest", "2,500 yd"),
        (10 * YD, "nearest", "10.0 yd"),
        (YD * 25 // 2, "nearest", "12.5 yd"),
        (100 * YD - 1, "nearest", "100 yd"),
        (100 * YD - 1, "down", "99.9 yd"),
        (213 * YD + 1, "up", "214 yd"),
        (214 * YD - 1, "down", "213 yd"),
        (214 * YD, "up", "214 yd"),
        (0, "nearest", "0 yd"),
        (-214 * YD, "nearest", "−214 yd"),
    ],
)
def test_long_lengths_have_one_decimal_below_a_hundred(um: int, rounding: str, text: str) -> None:
    assert IMPERIAL.long_length(um, rounding) == text


def test_long_lengths_are_metres_in_a_metric_studio() -> None:
    assert METRIC.long_length(2_286_000_000) == "2,286 m"
    assert METRIC.long_length(1_200_000) == "1.2 m"


def test_short_lengths_have_two_decimals() -> None:
    assert IMPERIAL.short_length(279_400) == "11.00 in"
    assert IMPERIAL.short_length(279_400, places=0) == "11 in"
    assert METRIC.short_length(279_400) == "27.94 cm"


@pytest.mark.parametrize(
    ("measures", "mg", "text"),
    [
        (IMPERIAL, 207_000, "207 g"),
        (IMPERIAL, 6_750, "6.8 g"),
        (IMPERIAL, 9_960, "10 g"),
        (IMPERIAL, 1_250_000, "1,250 g"),
        (IMPERIAL, 12_345_678, "12.35 kg"),
        (IMPERIAL, 0, "0 g"),
        (OUNCES, 207_000, "7.3 oz"),
        (OUNCES, 1_006_408, "2 lb 3.5 oz"),
        (OUNCES, 453_592, "1 lb"),
        (OUNCES, 453_000, "1 lb"),
        (OUNCES, 450_000, "15.9 oz"),
        (OUNCES, 0, "0 oz"),
        (OUNCES, -1_006_408, "−2 lb 3.5 oz"),
    ],
)
def test_masses(measures: Measures, mg: int, text: str) -> None:
    assert measures.mass(mg) == text


def test_what_is_short_is_rounded_up_and_what_is_free_down() -> None:
    assert IMPERIAL.mass(58_001, "up") == "59 g"
    assert IMPERIAL.mass(58_999, "down") == "58 g"
    assert percent(Fraction(9_001, 100_000), rounding="up") == "9.1 %"


def test_halves_are_rounded_away_from_nothing() -> None:
    assert rounded(Fraction(5, 2)) == 3
    assert rounded(Fraction(-5, 2)) == -3
    # 0.285 is less than itself in binary: a float would give 0.28
    assert decimal(Fraction(285, 1000), 2) == "0.29"


def test_nothing_left_of_a_difference_has_no_minus() -> None:
    assert decimal(Fraction(-1, 1000), 2) == "0.00"


def test_numbers_have_thousands_commas() -> None:
    assert number(2_500) == "2,500"
    assert number(-1_234_567) == "−1,234,567"


@pytest.mark.parametrize(
    ("share", "text"), [("9/100", "9 %"), ("1/8", "12.5 %"), ("1/3", "33.3 %"), ("0", "0 %")]
)
def test_percentages(share: str, text: str) -> None:
    assert percent(Fraction(share)) == text


@pytest.mark.parametrize(
    ("value", "noun", "text"),
    [
        (Density(Fraction(18)), "ends", "18 epi"),
        (Density(Fraction(14)), "picks", "14 ppi"),
        (Density(Fraction(12)), "dents", "12 dents per in"),
        (Density(Fraction(7), 10_000), "ends", "7 ends per cm"),
        (Density(Fraction(40), 100_000), "dents", "40 dents per 10 cm"),
        (Density(Fraction(60), 50_800), "ends", "60 ends per 2 in"),
        (Density(Fraction(31, 2)), "ends", "15.5 epi"),
        (Density(Fraction(20, 3)), "ends", "6 2/3 epi"),
        (Density(Fraction(1000, 57)), "ends", "17.54 epi"),
    ],
)
def test_densities_keep_their_base(value: Density, noun: str, text: str) -> None:
    assert density(value, noun) == text


def test_grist_in_either_system() -> None:
    grist = Grist.from_yd_per_lb(3360)
    assert IMPERIAL.grist(grist) == "3,360 yd/lb"
    assert METRIC.grist(grist) == "6,773 m/kg"


def test_a_page_finds_every_figure_on_measures() -> None:
    assert IMPERIAL.number(2500) == "2,500"
    assert IMPERIAL.percent(Fraction(1, 8)) == "12.5 %"
    assert IMPERIAL.density(Density(Fraction(18)), "picks") == "18 ppi"


def test_the_units_of_the_fields() -> None:
    assert [IMPERIAL.short_unit, IMPERIAL.long_unit, IMPERIAL.mass_unit] == ["in", "yd", "g"]
    assert [METRIC.short_unit, METRIC.long_unit, OUNCES.mass_unit] == ["cm", "m", "oz"]
    assert [IMPERIAL.grist_unit, METRIC.grist_unit] == ["yd/lb", "m/kg"]
    assert [IMPERIAL.density_base, METRIC.density_base] == ["in", "cm"]


@pytest.mark.parametrize(("length", "mass"), [("cubits", "g"), ("imperial", "stone")])
def test_other_measures_are_refused(length: str, mass: str) -> None:
    with pytest.raises(CalcError):
        Measures(length, mass)  # type: ignore[arg-type]


# --- what stands in a form ---


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("10", "10"),
        ("2.5", "2.5"),
        ("3/8", "0.375"),
        ("0.3125", "0.3125"),
        ("1.2 m", "120 cm"),
        ("1 yd", "36"),
        ("0", "0"),
    ],
)
def test_a_short_field_shows_what_was_typed(typed: str, shown: str) -> None:
    assert IMPERIAL.field_short_length(read_length(typed, "in")) == shown


@pytest.mark.parametrize(
    ("typed", "shown"), [("10", "10"), ("1.2 m", "1.2 m"), ("4 in", "4 in"), ("1 1/4", "1.25")]
)
def test_a_long_field_shows_what_was_typed(typed: str, shown: str) -> None:
    assert IMPERIAL.field_long_length(read_length(typed, "yd")) == shown


@pytest.mark.parametrize(
    ("typed", "shown"), [("450", "450"), ("6.75", "6.75"), ("1 lb", "1 lb"), ("2 lb 3", "35 oz")]
)
def test_a_weight_field_shows_what_was_typed(typed: str, shown: str) -> None:
    assert IMPERIAL.field_mass(read_mass(typed)) == shown


def test_a_field_has_no_thousands_commas() -> None:
    assert IMPERIAL.field_long_length(2500 * YD) == "2500"
    assert IMPERIAL.field_grist(Grist.from_yd_per_lb(3360)) == "3360"
    assert field_whole(12_000) == "12000"


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("3360 yd/lb", "3360"),
        ("210 yd/oz", "3360"),
        ("677 m/100 g", "6770 m/kg"),
        ("50 yd = 6.75 g", "200 yd = 27 g"),
        ("148.3 g/km", "148.3 g/km"),
    ],
)
def test_a_grist_field_shows_what_was_typed(typed: str, shown: str) -> None:
    assert IMPERIAL.field_grist(read_grist(typed)) == shown


@given(st.sampled_from(ALL), st.integers(0, MOST_UM))
def test_a_length_in_a_field_reads_back_to_itself(measures: Measures, um: int) -> None:
    assert read_length(measures.field_short_length(um), measures.short_unit) == um
    assert read_length(measures.field_long_length(um), measures.long_unit) == um


@given(st.sampled_from(ALL), st.integers(0, 3_000_000))
def test_a_short_length_in_a_field_reads_back_to_itself(measures: Measures, um: int) -> None:
    assert read_length(measures.field_short_length(um), measures.short_unit) == um
    assert read_length(measures.field_long_length(um), measures.long_unit) == um


@given(st.sampled_from(ALL), st.integers(0, MOST_MG))
def test_a_mass_in_a_field_reads_back_to_itself(measures: Measures, mg: int) -> None:
    assert read_mass(measures.field_mass(mg), measures.mass_unit) == mg


bases = st.sampled_from([25_400, 10_000, 100_000, 50_800])
densities = st.builds(
    Density, st.builds(Fraction, st.integers(100, 20_000), st.sampled_from([1, 2, 3, 7, 10, 16, 100])), bases
).filter(lambda value: Fraction(1, 10) <= value.number_in(25_400) <= 2000)


@given(st.sampled_from(ALL), densities)
def test_a_density_in_a_field_reads_back_to_itself(measures: Measures, value: Density) -> None:
    assert read_density(measures.field_density(value), measures.density_base) == value


@given(st.integers(0, 999_999))
def test_a_percentage_in_a_field_reads_back_to_itself(millionths: int) -> None:
    share = Fraction(millionths, 1_000_000)
    assert read_percent(field_percent(share)) == share


@given(st.integers(0, 1_000_000))
def test_a_whole_number_in_a_field_reads_back_to_itself(whole: int) -> None:
    assert read_whole(field_whole(whole)) == whole


lengths = st.tuples(st.decimals("0.01", 9999, places=2), st.sampled_from(["yd", "m"]))
masses = st.tuples(st.decimals("0.01", 9999, places=2), st.sampled_from(["g", "oz", "lb", "kg", "100 g"]))


@given(st.sampled_from(ALL), lengths, masses)
def test_a_grist_in_a_field_reads_back_to_itself(
    measures: Measures, length: tuple[object, str], mass: tuple[object, str]
) -> None:
    per = (
        f"{length[0]} {length[1]}/{mass[1]}"
        if mass[1] == "100 g"
        else f"{length[0]} {length[1]} = {mass[0]} {mass[1]}"
    )
    try:
        grist = read_grist(per)
    except CalcError:  # finer or heavier than any yarn
        return
    assert read_grist(measures.field_grist(grist), measures.grist_unit) == grist


@given(st.sampled_from(ALL), st.sampled_from(CountSystem), st.integers(2, 300), st.integers(1, 6))
def test_the_grist_of_a_count_in_a_field_reads_back_to_itself(
    measures: Measures, system: CountSystem, figure: int, ply: int
) -> None:
    grist = Count(system, Fraction(figure), ply).grist
    assert read_grist(measures.field_grist(grist), measures.grist_unit) == grist
