"""What decides, in one sentence; the first is our own worked case S12 (tests/references/reorder-worked-case.json)."""

from dataclasses import replace
from datetime import date

import pytest

from projects.buying import words
from projects.buying.deciding import ask
from projects.buying.gathering import Around, Scene
from stash.calc.writing import Measures
from stash.models import PutUp, Studio, Supplier
from tests.calc.reorder.test_worked_case import BIG, OUTLOOK, PUT_UP, SHELF, TODAY

pytestmark = pytest.mark.once

MEASURES = Measures(mass_in="g")


def scene(lead_days=18, late_days=7, **studio) -> Scene:
    supplier = Supplier(pk=1, name="Example Yarns", lead_days=lead_days, late_days=late_days)
    put_up = PutUp(pk=1, supplier=supplier, mass_mg=PUT_UP.mass_mg, least=2)
    return Scene(TODAY, Studio(pk=1, **studio), {}, {1: supplier}, {1: put_up}, {})


def around(**outlook) -> Around:
    return Around(
        replace(OUTLOOK, **outlook),
        1,
        False,
        None,
        False,
        jobs=(BIG,),
        packages=tuple(replace(one, free_mg=outlook.get("free_mg", one.free_mg)) for one in SHELF),
        offers=(PUT_UP,),
    )


def said(found, where) -> str:
    return words.decides(found, found.choices[0] if found.choices else None, where, MEASURES)


def test_the_job_decides_and_the_level_stands_beside_it():
    where = scene()
    found = ask(where, around())
    assert said(found, where) == (
        "The job decides: order by 14 August; the computed level would be reached on 28 October."
    )
    choice = found.choices[0]
    assert choice.counted.number == 2
    assert words.why_so_many(choice, where.put_ups[1], "EUR") == [
        "1 cone for the whole buffer",
        "they sell 2 at least",
    ]
    assert words.wanted_by(found, TODAY, MEASURES) == "“The big job” on 8 September, short by 260 g"
    assert words.use_words(found, MEASURES) == (
        "Usual use until then is counted: about 60 g a week, an estimate."
    )


def test_a_keep_level_that_is_reached_sooner_decides_and_the_job_stands_beside_it():
    where = scene()
    found = ask(where, around(keep_mg=1_200_000))
    assert said(found, where) == (
        "The keep level decides: 1,180 g is free and on order, and 1,200 g is to be kept. "
        "The job would want it ordered by 14 August."
    )


def test_a_lead_time_that_is_not_known_gives_no_day():
    where = scene(lead_days=None)
    found = ask(where, around())
    assert said(found, where) == (
        "The job decides: it winds on 8 September, and how long the parcel takes is not known."
    )
    assert words.late_words(found.choices[0], TODAY) == "When it would come is not known."


def test_what_comes_too_late_with_usual_delay():
    where = replace(scene(), today=date(2031, 8, 20))
    choice = ask(where, around(free_mg=500_000)).choices[0]
    assert words.late_words(choice, where.today) == (
        "Too late by 6 days with usual delay: ordered today it can be wound on 14 September."
    )


def test_a_shade_that_is_no_more_made_has_no_choice_and_one_that_has_enough_asks_for_nothing():
    where = scene()
    assert ask(where, replace(around(), no_more_on=TODAY)).choices == ()
    rich = ask(where, around(free_mg=5_000_000))
    assert rich.decision.by == "level" and not hasattr(rich, "choices")
