"""The chart's geometry: to scale, joined, and with names that nothing crosses."""

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.outlook import Arrival, Job, Outlook, UsualUse
from stash.calc.projection import project
from stash.calc.time_chart import HEIGHT, LETTER, MOST_LETTERS, WIDTH, lay_out, shown_until

TODAY = date(2026, 8, 3)
GRAM = 1_000


def day(number: int) -> date:
    return TODAY + timedelta(days=number)


def ahead(free: int, *, jobs=(), arrivals=(), keep_mg=None, week_mg=0):
    outlook = Outlook(
        7,
        free,
        keep_mg,
        tuple(Job(at, name, day(on), 5, mg, mg) for at, (on, mg, name) in enumerate(jobs)),
        tuple(Arrival(at, day(on), day(on), mg) for at, (on, mg) in enumerate(arrivals)),
        UsualUse(week_mg, 0, 52, 12) if week_mg else None,
    )
    return project(outlook, today=TODAY)


def drawn(found, named=True):
    return lay_out(found, unit_mg=GRAM, name=(lambda step: step.name or "order") if named else None)


def test_a_quarter_of_a_year_is_shown_at_least_and_never_more_than_was_looked():
    assert shown_until(ahead(1_000)) == day(91)
    assert shown_until(ahead(9_000, jobs=[(200, 10, "Far")])) == day(200 + 25 + 7)
    assert shown_until(ahead(9_000, jobs=[(360, 10, "Far")])) == day(365)
    # 9,000 mg at 700 mg a week are gone on the 91st day.
    assert shown_until(ahead(9_000, week_mg=700)) == day(91 + 11 + 7)


def test_a_job_halfway_is_drawn_halfway_and_half_as_high():
    chart = drawn(ahead(20_000, jobs=[(46, 10_000, "Mats")]))
    first, second = chart.levels
    assert (first.start, first.end, second.end) == (0, WIDTH // 2, WIDTH)
    assert second.start == first.end
    whole, half = chart.zero_y - first.y, chart.zero_y - second.y
    assert abs(whole - 2 * half) <= 2
    assert [(mark.name, mark.x, mark.row) for mark in chart.marks] == [("Mats", WIDTH // 2, 0)]
    assert chart.slopes == ()


def test_heights_are_ticked_in_round_figures_with_nought_among_them():
    ticks = drawn(ahead(1_340_000, jobs=[(9, 1_900_000, "Much")])).ticks
    assert [tick.mass_mg for tick in ticks] == [-500_000, 0, 500_000, 1_000_000]
    ounces = lay_out(ahead(500_000), unit_mg=Fraction(45_359_237, 1_600))
    assert [tick.mass_mg for tick in ounces.ticks] == [0, 141_748, 283_495, 425_243]


def test_the_estimate_ends_where_nothing_is_left_to_use():
    """1,000 mg at 140 mg a week are gone after 50 of the 99 days that are shown."""
    chart = drawn(ahead(1_000, week_mg=140))
    [slope] = chart.slopes
    assert chart.until == day(91)
    assert (slope.start, slope.end_y) == (0, chart.zero_y)
    assert abs(slope.end - WIDTH * 50 / 92) < WIDTH / 92
    lacking = drawn(ahead(1_000, jobs=[(10, 3_000, "Mats")], week_mg=140))
    assert lacking.slopes[-1].end_y == lacking.levels[-1].y


def test_a_keep_level_far_above_what_there_is_is_left_out():
    assert drawn(ahead(1_000, keep_mg=3_000)).keep_y is not None
    assert drawn(ahead(1_000, keep_mg=3_001)).keep_y is None


def test_months_stand_where_they_begin():
    chart = drawn(ahead(1_000))
    assert [month.on for month in chart.months] == [date(2026, 9, 1), date(2026, 10, 1), date(2026, 11, 1)]
    assert chart.months[0].x == 29 * WIDTH // 92


def test_a_name_beside_another_stands_a_row_lower_and_a_sixth_in_none():
    jobs = [(10 + at, 10, f"Job number {at}") for at in range(6)]
    assert [mark.row for mark in drawn(ahead(9_000, jobs=jobs)).marks] == [0, 1, 2, 3, 4, None]


def test_a_name_near_the_right_edge_ends_at_its_step():
    marks = drawn(ahead(9_000, jobs=[(9, 10, "Mats"), (89, 10, "A name of some length")])).marks
    assert [(mark.row, mark.ends) for mark in marks] == [(0, False), (0, True)]


def test_a_long_name_is_cut():
    [mark] = drawn(ahead(9_000, jobs=[(9, 10, "Lantern mats for the harbour fair")])).marks
    assert mark.name == "Lantern mats for the harb…" and len(mark.name) == MOST_LETTERS


def test_without_names_there_are_no_rows():
    chart = drawn(ahead(9_000, jobs=[(9, 10, "Mats")]), named=False)
    assert chart.rows == 0 and chart.marks[0].row is None


def test_a_unit_of_nothing_is_refused():
    with pytest.raises(CalcError) as refused:
        lay_out(ahead(1), unit_mg=0)
    assert refused.value.field == "unit_mg"


names = st.text("abcdefgh ", min_size=1, max_size=30)
charts = st.builds(
    lambda free, jobs, arrivals, keep, week: drawn(
        ahead(free, jobs=sorted(jobs), arrivals=sorted(arrivals), keep_mg=keep, week_mg=week)
    ),
    st.integers(0, 2_000_000),
    st.lists(st.tuples(st.integers(0, 380), st.integers(1, 900_000), names), max_size=9),
    st.lists(st.tuples(st.integers(0, 380), st.integers(1, 900_000)), max_size=4),
    st.none() | st.integers(1, 900_000),
    st.integers(0, 50_000),
)


@given(charts)
def test_all_lies_within_the_plot_and_every_stretch_begins_where_the_last_ended(chart):
    assert chart.levels[0].start == 0 and chart.levels[-1].end == WIDTH
    for before, after in zip(chart.levels, chart.levels[1:], strict=False):
        assert before.end == after.start
    heights = [level.y for level in chart.levels] + [tick.y for tick in chart.ticks] + [chart.zero_y]
    heights += [slope.end_y for slope in chart.slopes]
    assert all(0 <= y <= HEIGHT for y in heights)
    assert 1 <= len(chart.ticks) <= 6 and 0 in [tick.mass_mg for tick in chart.ticks]


@given(charts)
def test_no_name_runs_into_another_or_into_the_line_of_another(chart):
    placed = [mark for mark in chart.marks if mark.row is not None]
    for mark in placed:
        width = LETTER * (len(mark.name) + 1)
        left, right = (mark.x - width, mark.x) if mark.ends else (mark.x, mark.x + width)
        assert left >= 0 and right <= WIDTH
        for other in placed:
            if other is mark or other.row > mark.row:
                continue
            # The line of a name as high or higher goes down past this one.
            assert not left < other.x < right
