"""Usual use of what is used in lumps, against published values (tests/references/lumpy.yaml), which name their source."""

from fractions import Fraction
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.lumpy import (
    Pattern,
    TooLittle,
    pattern,
    smoothed,
    taken_by_week,
    too_little,
    usual_use,
    what_was_taken,
)

HERE = Path(__file__).parent.parent / "references"
BY_ID = {one["id"]: one for one in yaml.safe_load((HERE / "lumpy.yaml").read_text())}
LUBRICANT = BY_ID["croston-lubricant"]
SERIES = LUBRICANT["inputs"]["monthly_demand"]

amounts = st.lists(st.one_of(st.just(0), st.integers(1, 10**9)), min_size=1, max_size=60)


def near(value: Fraction, printed: float, within: str) -> bool:
    return abs(value - Fraction(str(printed))) <= Fraction(within)


def test_crostons_method_gives_what_was_published():
    answer = LUBRICANT["answer"]
    assert [amount for amount in SERIES if amount] == answer["nonzero_sizes"]
    found = smoothed(SERIES, Fraction(str(LUBRICANT["inputs"]["alpha"])))
    assert near(found.size, answer["smoothed_size"], "0.0005")
    assert near(found.interval, answer["smoothed_interval"], "0.0005")
    assert near(found.croston, answer["forecast_per_month"], "0.0005")
    assert near(found.sba, answer["sba_forecast_per_month"], "0.00005")


def test_the_class_of_the_published_series():
    answer = BY_ID["sbc-class"]["answer"]
    assert pattern(SERIES) == Pattern(answer["category"]) == Pattern.LUMPY
    taken = [amount for amount in SERIES if amount]
    mean = Fraction(sum(taken), len(taken))
    scatter = sum((amount - mean) ** 2 for amount in taken) / len(taken) / mean**2
    assert near(scatter, answer["cv2_population"], "0.00005")
    assert near(Fraction(len(SERIES), len(taken)), answer["adi_periods_per_demand"], "0.00005")


@pytest.mark.parametrize(
    "series, expected",
    [
        ([5, 6, 5, 6], Pattern.SMOOTH),
        ([1, 1, 1, 9], Pattern.ERRATIC),
        ([5, 0, 6, 0, 5, 0], Pattern.INTERMITTENT),
        ([1, 0, 1, 0, 0, 9], Pattern.LUMPY),
        # 33 periods with 25 takings are 1.32 exactly, 3 and 17 scatter by 0.49 exactly: on a cut-off, the rougher.
        ([1] * 25 + [0] * 8, Pattern.INTERMITTENT),
        ([3, 17], Pattern.ERRATIC),
        ([0, 0], None),
    ],
)
def test_the_four_classes(series, expected):
    assert pattern(series) == expected


def test_what_comes_back_takes_from_the_weeks_before_it():
    assert taken_by_week([-500, 0, 350, -40]) == [150, 0, 0, 40]
    assert taken_by_week([-100, -100, 150]) == [50, 0, 0]
    assert taken_by_week([200, -10]) == [0, 10]


@given(st.lists(st.integers(-(10**6), 10**6), max_size=40))
def test_use_is_never_below_nothing_and_no_more_than_what_fell(changes):
    taken = taken_by_week(changes)
    assert len(taken) == len(changes) and min(taken, default=0) >= 0
    assert sum(taken) <= sum(-change for change in changes if change < 0)
    assert sum(taken) >= -sum(changes)


@given(amounts, st.integers(1, 1_000))
def test_the_estimate_goes_with_the_unit(series, times):
    found, many = smoothed(series), smoothed([times * amount for amount in series])
    assert (found is None) == (many is None)
    if found:
        assert many.sba == times * found.sba and many.interval == found.interval
        taken = [amount for amount in series if amount]
        assert min(taken) <= found.size <= max(taken)


@given(st.integers(1, 10**9), st.integers(1, 8), st.integers(1, 12))
def test_what_is_taken_evenly_is_estimated_as_it_is(amount, every, times):
    found = smoothed(([0] * (every - 1) + [amount]) * times)
    assert found.croston == Fraction(amount, every)
    assert found.sba == Fraction(19, 20) * found.croston


@pytest.mark.parametrize(
    "series, why",
    [
        ([0] * 52, TooLittle.NOTHING),
        ([9] * 12, TooLittle.SHORT),
        ([0] * 50 + [9, 9], TooLittle.FEW),
        ([9, 9, 9] + [0] * 52, TooLittle.QUIET),
        ([9, 9, 9] + [0] * 51, None),
        ([0] * 10 + [9] * 3, None),
    ],
)
def test_too_little_is_said_and_not_estimated(series, why):
    assert too_little(what_was_taken(series)) == why
    assert (usual_use(series) is None) == (why is not None)


def test_usual_use_in_whole_mg():
    """Every fourth week 400 g: 95 g a week by the approximation; the weeks scatter by sqrt(26 * 300^2 + 78 * 100^2
    over 103) times 1,000, which is 174.04 g."""
    use = usual_use([0, 0, 0, 400_000] * 26)
    assert (use.week_mg, use.weeks, use.times) == (95_000, 104, 26)
    assert use.sd_mg == 174_044


def test_bad_input_names_its_field():
    with pytest.raises(CalcError) as refused:
        smoothed([1, -1])
    assert refused.value.field == "series"
    with pytest.raises(CalcError) as refused:
        smoothed([1], Fraction(0))
    assert refused.value.field == "alpha"
