"""Counting back from a fair. The order of the chain is common practice, no source; the days are reckoned by hand."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.fair_days import CountedBack, FairDays, Making, Trouble, count_back

FAIR = FairDays(date(2027, 6, 19), date(2027, 6, 20), 7)
READY = date(2027, 6, 12)
EARLY = date(2027, 1, 1)


def troubles(making, today=EARLY, fair=FAIR):
    return dict(count_back(fair, making, today).troubles)


def test_all_is_ready_so_many_clear_days_before_the_first_day():
    assert FAIR.ready_on == READY
    assert FairDays(FAIR.begins_on, FAIR.begins_on, 0).ready_on == FAIR.begins_on
    # Over a leap day: 7 days before 1 March 2028 is 23 February.
    assert FairDays(date(2028, 3, 1), date(2028, 3, 1), 7).ready_on == date(2028, 2, 23)


def test_days_for_weaving_and_finishing_are_what_lies_between():
    making = Making(winding_on=date(2027, 5, 3), off_on=date(2027, 6, 2))
    assert count_back(FAIR, making, EARLY) == CountedBack(READY, 30, 10, ())


def test_what_is_not_set_is_not_counted():
    assert count_back(FAIR, Making(), EARLY) == CountedBack(READY, None, None, ())
    assert count_back(FAIR, Making(off_on=date(2027, 6, 2)), EARLY).weaving_days is None


@pytest.mark.parametrize(
    ("making", "today", "found"),
    [
        (Making(order_on=date(2027, 4, 30)), date(2027, 4, 30), {}),
        (Making(order_on=date(2027, 4, 30)), date(2027, 5, 2), {Trouble.ORDER_PAST: 2}),
        (Making(winding_on=date(2027, 5, 1)), date(2027, 5, 4), {Trouble.WINDING_PAST: 3}),
        (Making(winding_on=READY), EARLY, {}),
        (Making(winding_on=READY + timedelta(days=1)), EARLY, {Trouble.WINDING_LATE: 1}),
        (Making(off_on=READY - timedelta(days=1)), EARLY, {}),
        (Making(off_on=READY), EARLY, {Trouble.NO_FINISHING: 0}),
        (Making(off_on=READY + timedelta(days=5)), EARLY, {Trouble.OFF_LATE: 5}),
        (Making(off_on=date(2027, 6, 1)), date(2027, 6, 3), {Trouble.OFF_PAST: 2}),
        (Making(), READY, {}),
        (Making(), READY + timedelta(days=3), {Trouble.READY_PAST: 3}),
    ],
)
def test_what_is_too_late_is_named_with_its_days(making, today, found):
    assert troubles(making, today) == found


def test_a_step_that_is_behind_gives_no_trouble_any_more():
    after = READY + timedelta(days=30)
    days = {"winding_on": EARLY, "off_on": READY, "order_on": EARLY}
    assert set(troubles(Making(**days, wound=True), after)) == {
        Trouble.OFF_PAST,
        Trouble.NO_FINISHING,
        Trouble.READY_PAST,
    }
    assert set(troubles(Making(**days, wound=True, off=True), after)) == {Trouble.READY_PAST}
    assert troubles(Making(**days, ready=True), after) == {}


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ((date(2027, 6, 19), date(2027, 6, 18), 7), "ends_on"),
        ((date(2027, 6, 19), date(2027, 6, 19), -1), "clear_days"),
        ((date(2027, 6, 19), date(2027, 6, 19), 121), "clear_days"),
        ((date.min, date.min, 7), "begins_on"),
    ],
)
def test_days_that_cannot_be_are_refused_by_name(facts, field):
    with pytest.raises(CalcError) as error:
        FairDays(*facts)
    assert error.value.field == field


near = st.dates(date(2027, 1, 1), date(2028, 1, 1))


@given(near, st.integers(0, 120), near, near)
def test_more_clear_days_never_make_anything_later_or_easier(begins, clear, off, today):
    wide = count_back(FairDays(begins, begins, clear), Making(off_on=off), today)
    narrow = count_back(FairDays(begins, begins, 0), Making(off_on=off), today)
    assert wide.ready_on == narrow.ready_on - timedelta(days=clear)
    if wide.finishing_days is not None:
        assert narrow.finishing_days == wide.finishing_days + clear
    assert {trouble for trouble, _ in narrow.troubles} - {Trouble.NO_FINISHING} <= {
        trouble for trouble, _ in wide.troubles
    }
