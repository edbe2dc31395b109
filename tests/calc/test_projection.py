"""What is free from day to day: against published balance rows (tests/references/projection.yaml), and by laws."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.outlook import Arrival, Clearing, Job, Outlook, UsualUse
from stash.calc.projection import Kind, Lowest, project

HERE = Path(__file__).parent.parent / "references"
RECORDS = yaml.safe_load((HERE / "projection.yaml").read_text())
TODAY = date(2026, 8, 3)


def day(number: int) -> date:
    return TODAY + timedelta(days=number)


def job(on: int | None, mg: int, pk: int = 1, name: str = "Mats", buffered_mg: int | None = None) -> Job:
    return Job(pk, name, None if on is None else day(on), 5, mg, mg if buffered_mg is None else buffered_mg)


def arrival(due: int, mg: int, late: int = 0, pk: int = 1) -> Arrival:
    return Arrival(pk, day(due), day(due + late), mg)


def use(week_mg: int) -> UsualUse:
    return UsualUse(week_mg, 0, 52, 12)


def ahead(free: int = 0, *, jobs=(), arrivals=(), **facts) -> Outlook:
    return Outlook(7, free, facts.pop("keep_mg", None), tuple(jobs), tuple(arrivals), **facts)


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record["id"])
def test_what_is_on_hand_at_the_end_of_each_week_is_as_published(record):
    """Needs are jobs, scheduled and planned receipts are arrivals, each on the first day of its week."""
    given_, answer = record["inputs"], record["answer"]
    weeks = len(given_["gross_requirements"])
    receipts = [
        scheduled + planned
        for scheduled, planned in zip(
            given_["scheduled_receipts"], answer["planned_order_receipts"], strict=True
        )
    ]
    outlook = ahead(
        given_["opening_on_hand"],
        jobs=[job(7 * at, need) for at, need in enumerate(given_["gross_requirements"]) if need],
        arrivals=[arrival(7 * at, mass) for at, mass in enumerate(receipts) if mass],
    )
    found = project(outlook, today=TODAY)
    ends = [found.free_on(day(7 * at + 6)) for at in range(weeks)]
    assert ends == answer["projected_on_hand"]
    assert found.short() is None


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record["id"])
def test_without_what_is_planned_it_runs_short_in_the_first_week_with_a_published_net_need(record):
    given_, answer = record["inputs"], record["answer"]
    outlook = ahead(
        given_["opening_on_hand"],
        jobs=[job(7 * at, need) for at, need in enumerate(given_["gross_requirements"]) if need],
        arrivals=[arrival(7 * at, mass) for at, mass in enumerate(given_["scheduled_receipts"]) if mass],
    )
    short = project(outlook, today=TODAY).short()
    first = next(at for at, planned in enumerate(answer["planned_order_receipts"]) if planned)
    assert short.on == day(7 * first)
    if "net_requirements" in answer:
        assert short.mass_mg == answer["net_requirements"][first]


def test_a_job_takes_its_bare_need_on_its_winding_day_and_its_buffer_if_asked():
    outlook = ahead(1_000, jobs=[job(10, 800, buffered_mg=1_100)])
    bare, buffered = project(outlook, today=TODAY), project(outlook, today=TODAY, buffered=True)
    assert (bare.free_on(day(9)), bare.free_on(day(10))) == (1_000, 200)
    assert bare.short() is None
    assert (buffered.short().on, buffered.short().mass_mg) == (day(10), 100)


def test_yarn_that_is_kept_apart_is_free_only_when_its_quarantine_is_over():
    parcel = Arrival(1, day(5), day(8), 500, apart_days=14)
    found = project(ahead(arrivals=[parcel], jobs=[job(21, 400)]), today=TODAY)
    assert (found.free_on(day(8)), found.free_on(day(21)), found.free_on(day(22))) == (0, -400, 100)
    assert found.short().on == day(21) and not found.overdue
    # Over its day with the usual delay it is counted on no more, though its quarantine would still run.
    late = project(ahead(arrivals=[parcel]), today=day(9))
    assert late.overdue and not late.steps


def test_the_job_that_first_goes_without_is_named():
    outlook = ahead(1_000, jobs=[job(10, 800, 1, "First"), job(10, 300, 2, "Second"), job(11, 5, 3, "Third")])
    short = project(outlook, today=TODAY).short()
    assert (short.on, short.mass_mg, short.job.name) == (day(10), 100, "Second")


def test_what_comes_in_on_the_winding_day_is_in_time_and_said_to_be_so():
    outlook = ahead(100, jobs=[job(9, 50, 1, "Before"), job(10, 500, 2, "On")], arrivals=[arrival(8, 600, 2)])
    found = project(outlook, today=TODAY)
    assert found.short() is None
    assert [step.name for step in found.on_the_day()] == ["On"]
    a_day_later = project(replace(outlook, arrivals=(arrival(9, 600, 2),)), today=TODAY)
    assert a_day_later.short().on == day(10)


def test_an_arrival_counts_with_the_usual_delay():
    found = project(ahead(0, arrivals=[arrival(10, 500, late=4)]), today=TODAY)
    assert (found.free_on(day(13)), found.free_on(day(14))) == (0, 500)


def test_a_past_winding_day_counts_today_and_says_so():
    [step] = project(ahead(100, jobs=[job(-3, 70)]), today=TODAY).steps
    assert (step.on, step.was_on, step.after_mg) == (TODAY, day(-3), 30)


def test_what_has_no_day_is_told_apart():
    overdue = arrival(-9, 400, late=3)
    late_today = arrival(-3, 300, late=3, pk=2)
    outlook = ahead(100, jobs=[job(None, 5_000)], arrivals=[overdue, late_today], undated_mg=60)
    found = project(outlook, today=TODAY)
    assert [one.bare_mg for one in found.undated] == [5_000]
    assert (found.overdue, found.unknown_mg) == ((overdue,), 60)
    assert found.free_on(TODAY) == 400 and found.opening_mg == 100
    assert outlook.on_order_mg == 760


def test_yarn_comes_out_of_quarantine_on_its_day():
    found = project(ahead(0, clearings=(Clearing(3, day(5), 900), Clearing(4, day(-2), 50))), today=TODAY)
    assert (found.free_on(TODAY), found.free_on(day(4)), found.free_on(day(5))) == (50, 50, 950)
    assert [step.kind for step in found.steps] == [Kind.CLEARING] * 2


def test_usual_use_is_exact_over_whole_weeks_and_never_above_its_part():
    found = project(ahead(10_000, use=use(100)), today=TODAY)
    assert [found.used_by(day(number)) for number in (0, 1, 6, 7, 8, 14)] == [0, 14, 85, 100, 114, 200]
    assert found.free_on(day(7)) == 10_000 and found.free_on(day(7), usual=True) == 9_900


def test_the_keep_level_is_reached_when_no_more_than_it_is_free():
    found = project(ahead(1_000, keep_mg=300, jobs=[job(20, 700)], use=use(70)), today=TODAY)
    assert found.keep_day() == day(20)
    assert found.keep_day(usual=True) == day(20)
    assert project(ahead(1_000, keep_mg=300, use=use(70)), today=TODAY).keep_day(usual=True) == day(70)
    assert project(ahead(1_000), today=TODAY).keep_day() is None


def test_the_lowest_day_is_the_first_on_which_it_stands():
    outlook = ahead(1_000, jobs=[job(5, 900)], arrivals=[arrival(30, 2_000)], use=use(7))
    found = project(outlook, today=TODAY)
    assert found.lowest() == Lowest(day(5), 100)
    assert found.lowest(usual=True) == Lowest(day(29), 71)


@pytest.mark.parametrize("days", [0, 4_000])
def test_a_stretch_that_cannot_be_looked_ahead_names_its_field(days):
    with pytest.raises(CalcError) as refused:
        project(ahead(), today=TODAY, days=days)
    assert refused.value.field == "days"


def test_a_day_outside_the_stretch_is_refused():
    with pytest.raises(CalcError) as refused:
        project(ahead(), today=TODAY).free_on(day(-1))
    assert refused.value.field == "day"


masses = st.integers(1, 10_000)
jobs = st.lists(st.builds(job, st.none() | st.integers(-20, 80), masses, st.integers(1, 9)), max_size=5)
arrivals = st.lists(st.builds(arrival, st.integers(-20, 80), masses, st.integers(0, 9)), max_size=4)
clearings = st.lists(st.builds(Clearing, st.integers(1, 9), st.integers(-5, 60).map(day), masses), max_size=2)
lookouts = st.builds(
    lambda free, jobs_, come, clear, week: ahead(
        free,
        jobs=sorted(jobs_, key=lambda one: (one.on is None, one.on or TODAY)),
        arrivals=sorted(come, key=lambda one: one.late_on),
        clearings=tuple(clear),
        keep_mg=500,
        use=use(week) if week else None,
    ),
    st.integers(0, 8_000),
    jobs,
    arrivals,
    clearings,
    st.integers(0, 900),
)
DAYS = 90


@given(lookouts)
def test_the_changes_add_up(outlook):
    found = project(outlook, today=TODAY, days=DAYS)
    free = found.opening_mg
    for step in found.steps:
        free += step.change_mg
        assert free == step.after_mg
    assert found.free_on(found.until) == free
    assert found.free_on(found.until, usual=True) == free - found.week_mg * DAYS // 7
    days = [step.on for step in found.steps]
    assert days == sorted(days) and all(TODAY <= on <= found.until for on in days)


@given(lookouts, st.booleans(), st.integers(-3_000, 3_000))
def test_the_first_day_below_a_level_and_the_lowest_are_those_of_a_look_at_every_day(outlook, usual, level):
    found = project(outlook, today=TODAY, days=DAYS)
    every = [(day(number), found.free_on(day(number), usual=usual)) for number in range(DAYS + 1)]
    assert found.first_below(level, usual=usual) == next((on for on, mg in every if mg < level), None)
    least = min(mg for _, mg in every)
    assert found.lowest(usual=usual) == Lowest(next(on for on, mg in every if mg == least), least)


@given(lookouts, st.integers(1, 5_000), st.booleans())
def test_more_stock_never_runs_short_earlier(outlook, more, usual):
    now = project(outlook, today=TODAY, days=DAYS).first_below(0, usual=usual)
    then = project(replace(outlook, free_mg=outlook.free_mg + more), today=TODAY, days=DAYS)
    later = then.first_below(0, usual=usual)
    assert later is None or (now is not None and later >= now)


@given(lookouts, st.integers(0, 80), masses, st.integers(0, 9))
def test_an_arrival_moves_nothing_before_its_day_and_everything_from_it_on(outlook, due, mass, late):
    further = replace(outlook, arrivals=(*outlook.arrivals, arrival(due, mass, late)))
    before, after = (project(one, today=TODAY, days=DAYS) for one in (outlook, further))
    for number in range(DAYS + 1):
        moved = mass if number >= due + late else 0
        assert after.free_on(day(number), usual=True) == before.free_on(day(number), usual=True) + moved


@given(lookouts)
def test_a_job_that_is_served_on_the_day_only_would_not_be_if_that_came_a_day_later(outlook):
    found = project(outlook, today=TODAY, days=DAYS)
    named = found.on_the_day()
    for step in named:
        came = sum(one.change_mg for one in found.steps if one.on == step.on and one.change_mg > 0)
        assert step.after_mg >= 0 > step.after_mg - came
