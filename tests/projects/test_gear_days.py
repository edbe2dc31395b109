"""Is a loom or a reed free for these days? Sentences, and whether they are sure."""

from datetime import date

import pytest

from projects.gear import Span
from projects.gear_days import Days, clashes
from stash.models import Loom, Reed

LOOM = Loom(pk=1, name="Big loom")
REED = Reed(pk=2, name="Ten")
MARCH = Days(date(2027, 3, 10), date(2027, 3, 20))


def span(from_day=None, off_day=None, **changes):
    facts = {
        "project_id": 9,
        "name": "Towels",
        "loom_id": 1,
        "reed_id": 2,
        "from_on": from_day and date(2027, 3, from_day),
        "off_on": off_day and date(2027, 3, off_day),
        "on_loom": False,
    }
    return Span(**facts | changes)


def said(thing, spans, days=MARCH):
    return [(clash.sure, clash.text) for clash in clashes(thing, spans, days)]


@pytest.mark.parametrize("days", [(1, 9), (21, 30), (21, None)])
def test_days_that_do_not_meet_say_nothing(days):
    assert said(LOOM, [span(*days)]) == []


def test_another_loom_or_reed_is_no_matter():
    assert said(LOOM, [span(10, 12, loom_id=7)]) == []
    assert said(REED, [span(10, 12, reed_id=7)]) == []


@pytest.mark.parametrize("days", [(1, 10), (15, 30), (20, None)])
def test_days_that_meet_are_sure(days):
    ((sure, text),) = said(LOOM, [span(*days)])
    assert sure
    assert text.startswith("Towels wants Big loom from")


def test_the_same_winding_day_is_named():
    assert said(REED, [span(10)]) == [
        (True, "Towels wants Ten from 10 March, the winding day of this warp too.")
    ]


def test_a_missing_day_is_asked_for():
    assert said(LOOM, [span(1)]) == [
        (
            False,
            "Towels wants Big loom from 1 March and has no day to come off; this warp is to be wound on 10 March.",
        )
    ]
    assert said(LOOM, [span(12)], Days(date(2027, 3, 10), None)) == [
        (False, "Towels wants Big loom from 12 March: say when this warp is off the loom.")
    ]
    assert said(LOOM, [span()]) == [(False, "Towels wants Big loom too; it has no winding day yet.")]
    assert said(LOOM, [span(3)], Days(None, None)) == [
        (False, "Towels wants Big loom from 3 March. Set a winding day to see whether they meet.")
    ]


def test_what_is_on_the_loom_now_keeps_it_until_it_is_off():
    assert said(LOOM, [span(1, 9, on_loom=True)]) == []
    assert said(LOOM, [span(1, 12, on_loom=True)]) == [
        (True, "Towels is on Big loom, until 12 March; this warp is to be wound on 10 March.")
    ]
    assert said(REED, [span(1, on_loom=True)]) == [
        (False, "Ten is in use for Towels; no day is set for its end.")
    ]


def test_what_is_lent_is_back_in_time_or_not():
    lent = Reed(pk=2, name="Ten", lent_to="Ana", back_on=date(2027, 3, 9))
    assert said(lent, []) == []
    lent.back_on = date(2027, 3, 11)
    assert said(lent, []) == [
        (True, "Ten is lent to Ana, to be back on 11 March; this warp is to be wound on 10 March.")
    ]
    lent.back_on = None
    assert said(lent, []) == [(False, "Ten is lent to Ana; no day is set for its end.")]


def test_a_loom_with_a_class_on_it_is_taken():
    busy = Loom(pk=1, name="Big loom", busy_with="a class", busy_until=date(2027, 3, 15))
    assert said(busy, []) == [
        (True, "Big loom has a class on it, until 15 March; this warp is to be wound on 10 March.")
    ]
