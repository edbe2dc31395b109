"""Reading, writing and converting yarn counts."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.counts import (
    MOST_PLIES,
    Count,
    CountSystem,
    convert,
    plied_grist,
    read_count,
    resultant,
    weight_shares,
)
from stash.calc.errors import CalcError
from stash.calc.quantity import MOST_IN_GRIST

pytestmark = pytest.mark.once

INDIRECT = [system for system in CountSystem if not system.is_direct]
DIRECT = [system for system in CountSystem if system.is_direct]


def refused(text: str, system: str | None = None) -> CalcError:
    with pytest.raises(CalcError) as caught:
        read_count(text, system)
    return caught.value


@pytest.mark.parametrize(
    ("text", "system", "number", "ply"),
    [
        ("8/2", "cotton", "8", 2),
        ("2/8", "cotton", "8", 2),
        (" 8 / 2 ", "cotton", "8", 2),
        ("16/1", "cotton", "16", 1),
        ("1/16", "worsted", "16", 1),
        ("5/1", "metric", "5", 1),
        ("16", "cotton", "16", 1),
        ("2/2", "cotton", "2", 2),
        ("4/4", "run", "4", 4),
        ("10/2", "run", "10", 2),
        ("12/9", "cotton", "12", 9),
        ("8.5/2", "lea", "8.5", 2),
        ("8,5/2", "lea", "8.5", 2),
        ("2/16", "worsted", "16", 2),
        ("16/2", "worsted", "16", 2),
        ("2/28", "metric", "28", 2),
        ("60/2", "metric", "60", 2),
        ("2/6", "metric", "6", 2),
        ("3 run", "run", "3", 1),
        ("3 1/4 run", "run", "3.25", 1),
        ("3-1/4 run", "run", "3.25", 1),
        ("20 cut x 2", "cut", "20", 2),
        ("3 x 2", "metric", "3", 2),
        ("30's/2", "spun_silk", "30", 2),
    ],
)
def test_a_count_is_read_as_number_and_plies(text: str, system: str, number: str, ply: int) -> None:
    assert read_count(text, system) == Count(CountSystem(system), Fraction(number), ply)


def test_3_2_cotton_is_two_plies_of_number_3() -> None:
    # common practice, no source: cotton writes the number first
    assert read_count("3/2", "cotton") == Count(CountSystem.COTTON, Fraction(3), 2)
    assert read_count("3/2", "cotton").grist.yd_per_lb == 1260


def test_6_4_cotton_is_four_plies_of_number_6() -> None:
    # common practice, no source
    assert read_count("6/4", "cotton") == Count(CountSystem.COTTON, Fraction(6), 4)


@pytest.mark.parametrize(
    ("text", "system"),
    [("6/2", "metric"), ("6/4", "worsted"), ("2/3", "cotton"), ("3/2", "run"), ("3/2", "cut")],
)
def test_a_count_that_reads_both_ways_is_refused_with_both_readings(text: str, system: str) -> None:
    first, second = text.split("/")
    message = refused(text, system).message
    assert f"{second} plies of number {first}" in message
    assert f"{first} plies of number {second}" in message
    assert f"{first} x {second}" in message


@pytest.mark.parametrize(("text", "ply"), [("2 x 3", 3), ("3 x 2", 2)])
def test_number_times_plies_answers_the_question(text: str, ply: int) -> None:
    assert read_count(text, "metric").ply == ply


def test_a_fraction_of_a_run_is_asked_about() -> None:
    assert "0.5" in refused("1/2", "run").message


@pytest.mark.parametrize("text", ["8/2", "16", "8/2 cotton", "16/2 linen", "2/24 worsted"])
def test_without_a_system_the_count_is_refused_and_the_systems_are_listed(text: str) -> None:
    error = refused(text)
    assert error.field == "system"
    assert all(system.label in error.message for system in CountSystem)


@pytest.mark.parametrize(
    ("text", "system"),
    [("8/2 Nm", "metric"), ("Ne 8/2", "cotton"), ("16/2 lea", "lea"), ("R 148 tex / 2", "tex")],
)
def test_a_text_may_state_the_system_itself(text: str, system: str) -> None:
    assert read_count(text) == read_count(text, system)
    assert read_count(text).system == system


@pytest.mark.parametrize(
    ("text", "system"), [("8/2 Nm", "cotton"), ("16/2 linen", "cotton"), ("74 tex x 2", "denier")]
)
def test_a_text_that_names_another_system_is_refused(text: str, system: str) -> None:
    assert "Which is it?" in refused(text, system).message


def test_an_unknown_system_is_refused_with_the_list() -> None:
    assert refused("8/2", "furlongs").field == "system"


@pytest.mark.parametrize(
    "text", ["74 tex x 2", "74 tex × 2", "74x2", "74 TEX X 2", "R 148 tex / 2", "R148 tex/2", "r148/2"]
)
def test_both_forms_of_iso_1139_are_one_yarn(text: str) -> None:
    # ISO 1139: the single with its plies, or R and the resultant (calculations.md states both forms)
    count = read_count(text, "tex")
    assert count == Count(CountSystem.TEX, Fraction(74), 2)
    assert count.tex == 148


def test_a_stroke_without_r_is_asked_about_in_a_direct_system() -> None:
    assert "74 x 2" in refused("74/2", "tex").message


def test_r_marks_no_resultant_in_a_system_of_length_per_mass() -> None:
    assert "resultant" in refused("R 8/2", "cotton").message


@pytest.mark.parametrize(
    ("text", "written"),
    [
        (("8/2", "cotton"), "8/2 cotton"),
        (("16/2", "lea"), "16/2 linen lea"),
        (("2/16", "worsted"), "2/16 worsted"),
        (("2/28", "metric"), "Nm 2/28"),
        (("6 x 4", "worsted"), "4/6 worsted"),
        (("4 x 6", "worsted"), "4 x 6 worsted"),
        (("74x2", "tex"), "74 tex x 2"),
        (("150 den x 3", "denier"), "150 denier x 3"),
        (("3", "run"), "3 run"),
        (("3.25", "run"), "3 1/4 run"),
        (("2.5/2", "cotton"), "2.5/2 cotton"),
        (("20 x 2", "yorkshire"), "20 Yorkshire skein x 2"),
        (("R 100 tex / 3", "tex"), "R 100 tex / 3"),
    ],
)
def test_a_count_is_written_as_the_trade_writes_it(text: tuple[str, str], written: str) -> None:
    assert read_count(*text).written == written


def test_the_resultant_form_is_written_with_r() -> None:
    assert read_count("74 tex x 2").written_resultant == "R 148 tex / 2"


numbers = st.builds(Fraction, st.integers(10, 900), st.sampled_from([1, 2, 4, 10]))
counts = st.builds(
    Count, st.sampled_from(CountSystem), numbers.filter(lambda n: n >= 1), st.integers(1, MOST_PLIES)
)


@given(counts)
def test_what_is_written_reads_back_to_the_same_count(count: Count) -> None:
    assert read_count(count.written, count.system) == count
    assert read_count(count.written_resultant, count.system).resultant == count.resultant


@given(counts)
def test_every_count_has_a_grist_that_can_be_stored(count: Count) -> None:
    assert 0 < count.grist.length_um < MOST_IN_GRIST
    assert 0 < count.grist.mass_mg < MOST_IN_GRIST


@given(counts)
def test_converting_to_its_own_system_gives_the_resultant(count: Count) -> None:
    assert convert(count, count.system) == count.resultant


@given(counts, st.sampled_from(CountSystem))
def test_one_factor_converts_every_count_of_a_system(count: Count, to: CountSystem) -> None:
    of_one = convert(Count(count.system, Fraction(1)), to)
    if count.system.is_direct == to.is_direct:
        assert convert(count, to) == count.resultant * of_one
    else:
        assert convert(count, to) == of_one / count.resultant


@given(st.text(max_size=50), st.sampled_from([None, *CountSystem]))
def test_any_text_gives_a_count_or_a_clear_refusal(text: str, system: CountSystem | None) -> None:
    try:
        assert isinstance(read_count(text, system), Count)
    except CalcError as error:
        assert error.message


@given(
    st.text(alphabet="0123456789 /-.,xRr'½¼texNmcoun", min_size=1, max_size=20),
    st.sampled_from([None, *CountSystem]),
)
def test_any_text_that_looks_like_a_count_gives_one_or_a_clear_refusal(
    text: str, system: CountSystem | None
) -> None:
    try:
        assert isinstance(read_count(text, system), Count)
    except CalcError as error:
        assert error.message


@pytest.mark.parametrize(
    "text",
    [
        "0",
        "0/2",
        "8/0",
        "-8/2",
        "−8/2",
        "8/30",
        "30/40",
        "7/2.5",
        "8/2/2",
        "8/2 x 3",
        "99999999",
        "0.00001",
        "8/2 dogs",
    ],
)
def test_a_count_that_no_yarn_has_is_refused(text: str) -> None:
    assert refused(text, "cotton").message


@pytest.mark.parametrize(
    ("number", "ply", "field"), [(0, 1, "number"), (-1, 1, "number"), (8, 0, "ply"), (8, 25, "ply")]
)
def test_a_count_checks_itself_and_names_the_field(number: int, ply: int, field: str) -> None:
    with pytest.raises(CalcError) as caught:
        Count(CountSystem.COTTON, Fraction(number), ply)
    assert caught.value.field == field


@pytest.mark.parametrize("system", INDIRECT)
def test_length_per_mass_grows_in_proportion_to_the_count(system: CountSystem) -> None:
    # common practice, no source: with 100 yd/lb for count 1, count 3 gives 300 and count 8 gives 800
    one, three, eight = (Count(system, Fraction(n)).grist.yd_per_lb for n in (1, 3, 8))
    assert (three / one * 100, eight / one * 100) == (300, 800)


@pytest.mark.parametrize("system", INDIRECT)
def test_the_bigger_number_is_the_finer_yarn(system: CountSystem) -> None:
    # common practice, no source
    assert Count(system, Fraction(20)).tex < Count(system, Fraction(8)).tex


@pytest.mark.parametrize("system", DIRECT)
def test_in_a_direct_system_the_bigger_number_is_the_thicker_yarn(system: CountSystem) -> None:
    # common practice, no source
    assert Count(system, Fraction(200)).tex > Count(system, Fraction(80)).tex


@pytest.mark.parametrize("system", [s for s in INDIRECT if s is not CountSystem.SPUN_SILK])
def test_ply_divides_length_per_mass(system: CountSystem) -> None:
    assert Count(system, Fraction(8), 2).grist.yd_per_lb * 2 == Count(system, Fraction(8)).grist.yd_per_lb


def test_ply_changes_nothing_in_english_spun_silk() -> None:
    assert read_count("20/2", "spun_silk").grist.yd_per_lb == 16_800


@pytest.mark.parametrize("system", DIRECT)
def test_ply_multiplies_mass_per_length(system: CountSystem) -> None:
    assert Count(system, Fraction(80), 3).tex == 3 * Count(system, Fraction(80)).tex


def test_16_2_is_another_yarn_in_linen_than_in_cotton() -> None:
    assert read_count("16/2", "lea").grist.yd_per_lb == 2400
    assert read_count("16/2", "cotton").grist.yd_per_lb == 6720


@given(st.lists(st.integers(1, 300), min_size=1, max_size=6))
def test_shares_of_weight_add_up_to_the_whole(numbers: list[int]) -> None:
    assert sum(weight_shares(numbers)) == 1


@given(st.integers(1, 100), st.integers(1, 6))
def test_equal_plies_are_the_count_divided_by_their_number(number: int, ply: int) -> None:
    assert resultant([number] * ply) == Fraction(number, ply)


def test_unlike_yarns_of_different_systems_are_plied_by_their_masses() -> None:
    yarns = [read_count("8/2", "cotton"), read_count("74 tex x 2", "tex")]
    assert plied_grist(yarns).tex == yarns[0].tex + yarns[1].tex


@pytest.mark.parametrize("numbers", [[], [0, 20], [-8]])
def test_a_resultant_needs_counts_above_nothing(numbers: list[int]) -> None:
    with pytest.raises(CalcError):
        resultant(numbers)
