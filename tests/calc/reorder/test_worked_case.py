"""Our own worked case S12, reckoned independently from the definitions: the job decides, not the level."""

import json
from dataclasses import replace
from datetime import date
from fractions import Fraction

from stash.calc.grist import Grist
from stash.calc.outlook import Job, Outlook, UsualUse
from stash.calc.packing import Need
from stash.calc.reorder.decision import Times, decide, level_of, short_by_mass
from stash.calc.reorder.jobs import Package, Wanting, enough_for, serve
from stash.calc.reorder.level import reorder_level
from stash.calc.reorder.put_ups import Offered, Why, count
from stash.calc.verdict import Verdict
from tests.calc.reorder.references import HERE

CASE = json.loads((HERE / "reorder-worked-case.json").read_text(encoding="utf-8"))
ASKED, ANSWER = CASE["inputs"], CASE["answer"]
TODAY = date.fromisoformat(ASKED["today"])
JOB_DAY = date.fromisoformat(ASKED["job_day"])
USE = UsualUse(week_mg=round(ASKED["use_g_per_week"] * 1_000), sd_mg=0, weeks=52, times=40)
JOB_MG = round(ASKED["job_g"] * 1_000)
OUTLOOK = Outlook(
    1,
    round(ASKED["free_g"] * 1_000),
    None,
    jobs=(Job(1, "The big job", JOB_DAY, 0, JOB_MG, JOB_MG),),
    use=USE,
)
TIMES = Times(ASKED["lead_days"], ASKED["late_days"])
PUT_UP = Offered(1, 1, ASKED["cone_g"] * 1_000, least=ASKED["minimum_cones"])
SURE = 950_000
# A yarn of a metre to the gram: the job is weft alone, ten pieces of 90 m, which are 90 g each.
BIG = Wanting(
    1,
    "The big job",
    JOB_DAY,
    Need("A", 0, 0, 90_000_000, 90_000_000, 0, 0),
    1,
    10,
    0,
    Grist(1_000_000, 1_000),
)
SHELF = [Package(1, None, OUTLOOK.free_mg)]


def test_level_and_safety():
    level = reorder_level(USE, ASKED["lead_days"], ASKED["late_days"], SURE)
    assert level.safety_mg == CASE["working"]["safety_g"] * 1_000
    assert round(Fraction(level.mg, 1_000), 1) == Fraction(str(ANSWER["reorder_level_g"]))


def test_day_on_which_the_level_is_reached_and_what_the_job_lacks():
    (short,) = short_by_mass(OUTLOOK, today=TODAY)
    assert short.mass_mg == ANSWER["short_for_job_g"] * 1_000 and not short.tight
    found = level_of(OUTLOOK, TIMES, today=TODAY, sure_ppm=SURE, short={1})
    assert found.on == date.fromisoformat(ANSWER["level_reached"]) and not found.kept


def test_the_job_decides():
    found = decide(OUTLOOK, short_by_mass(OUTLOOK, today=TODAY), TIMES, today=TODAY, sure_ppm=SURE)
    assert found.by == ANSWER["order_now_because_of"]
    assert found.order_by == date.fromisoformat(ANSWER["order_no_later_than"])
    assert found.level.on == date.fromisoformat(ANSWER["level_reached"])


def test_todays_stock_alone_is_the_wrong_answer():
    """1,180 g on the shelf is more than the 900 g of the job, and yet it is short."""
    assert OUTLOOK.free_mg > JOB_MG and short_by_mass(OUTLOOK, today=TODAY)
    (without_use,) = serve([BIG], SHELF, today=TODAY)
    assert without_use.state == Verdict.ENOUGH


def test_how_many_cones():
    (served,) = serve([BIG], SHELF, today=TODAY, week_mg=USE.week_mg)
    assert served.verdict.short_mass_mg == ANSWER["short_for_job_g"] * 1_000
    found = enough_for([BIG], SHELF, PUT_UP.mass_mg, today=TODAY, week_mg=USE.week_mg)
    counted = count(PUT_UP, found.number)
    assert counted.number == ANSWER["cones"] and counted.steps[-1] == (Why.LEAST, 2)


def test_without_a_lead_time_no_day_is_made_up():
    found = decide(OUTLOOK, short_by_mass(OUTLOOK, today=TODAY), Times(None), today=TODAY, sure_ppm=SURE)
    assert found.by == "job" and found.order_by is None and found.level is None


def test_no_day_lies_before_or_after_the_calendar():
    assert TIMES.last_day_for(date(1, 1, 3)) == date.min
    assert TIMES.here_on(date(9999, 12, 30)) == date.max


def test_quarantine_of_animal_fibre_comes_on_top():
    found = decide(OUTLOOK, short_by_mass(OUTLOOK, today=TODAY), Times(18, 7, 14), today=TODAY, sure_ppm=SURE)
    assert found.order_by == date(2031, 7, 31)


def test_a_level_that_is_reached_sooner_decides():
    low = replace(OUTLOOK, free_mg=950_000, keep_mg=950_000)
    found = decide(low, short_by_mass(low, today=TODAY), TIMES, today=TODAY, sure_ppm=SURE)
    assert found.by == "level" and found.order_by == TODAY and found.level.kept


def test_a_job_that_is_served_takes_its_yarn_before_the_level_is_looked_for():
    rich = replace(OUTLOOK, free_mg=1_500_000)
    assert short_by_mass(rich, today=TODAY) == []
    found = decide(rich, [], TIMES, today=TODAY, sure_ppm=SURE)
    assert found.by == "level" and found.order_by == JOB_DAY
    assert found.level.mg == reorder_level(USE, 18, 7, SURE).mg


def test_what_is_over_its_last_day_is_late():
    found = decide(OUTLOOK, short_by_mass(OUTLOOK, today=TODAY), TIMES, today=TODAY, sure_ppm=SURE)
    assert found.late_by(date(2031, 8, 14)) == 0 and found.late_by(date(2031, 8, 20)) == 6
