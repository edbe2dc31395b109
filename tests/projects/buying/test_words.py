"""What decides, in one sentence; the first is our own worked case S12 (tests/references/reorder-worked-case.json)."""

from dataclasses import replace
from datetime import date

import pytest

from projects.buying import words
from projects.buying.deciding import ask
from projects.buying.gathering import Around, Scene, Written
from stash.calc.reorder.jobs import Package
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


def test_what_is_free_is_rounded_down_beside_the_level():
    where = scene()
    found = ask(where, around(keep_mg=1_200_000, free_mg=1_199_600))
    assert "1,199 g is free and on order, and 1,200 g is to be kept" in said(found, where)


def test_the_buffer_that_lacks_is_the_whole_need_less_all_that_is_free_or_held():
    """900 g and 100 g of buffer; 850 g are held and 100 g free."""
    need = replace(BIG.need, weft_piece_buffered_um=100_000_000)
    one = replace(BIG, need=need, held={1: 850_000})
    shelf = (replace(SHELF[0], free_mg=100_000),)
    outlook = replace(
        OUTLOOK,
        free_mg=100_000,
        use=None,
        jobs=(replace(OUTLOOK.jobs[0], bare_mg=50_000, buffered_mg=150_000),),
    )
    found = ask(scene(), replace(around(), outlook=outlook, jobs=(one,), packages=shelf))
    assert [(short.tight, short.mass_mg) for short in found.shorts] == [(True, 50_000)]


def test_jobs_covered_by_an_order_being_written_take_theirs_of_it_before_the_level():
    """The big job wants 900 g of 1,180 g, of which usual use takes some, and 1,000 g are written: above the level of
    1,500 g are wanted 1,500 + 900 - 1,180 - 1,000 g more."""
    where = scene()
    written = (Package(9, None, 1_000_000),)
    found = ask(
        where,
        replace(around(keep_mg=1_500_000), written_packages=written, written=(Written(1, 1, 1, "X", 18, 7),)),
    )
    assert found.shorts and found.choices[0].needed_for_jobs == 0
    assert found.choices[0].counted.steps[0][1] == -(-(1_500_001 + 900_000 - 2_180_000) // PUT_UP.mass_mg)


def test_whom_an_order_of_one_lot_leaves_without_is_said():
    where = scene()
    one = replace(BIG, need=replace(BIG.need, wish="lot", wish_lot_id=7))
    two = replace(BIG, id=2, name="The other", need=replace(BIG.need, wish="lot", wish_lot_id=8))
    found = ask(where, replace(around(), jobs=(one, two)))
    assert (
        words.other_lots_words(found, found.choices[0])
        == "“The other” wishes for another lot and still goes without."
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
