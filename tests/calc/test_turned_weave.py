"""Weaves of pieces that are woven turned."""

import pytest

from stash.calc.draft import DRAFT, read_draft
from stash.calc.errors import CalcError
from stash.calc.structure import structure, structures
from stash.calc.turned_weave import turned_weave

pytestmark = pytest.mark.once


@pytest.mark.parametrize(
    ("key", "turned"),
    [
        ("plain", "plain"),
        ("basket-2-2", "basket-2-2"),
        ("basket-3-3", "basket-3-3"),
        ("twill-2-2", "twill-2-2"),
        ("twill-2-2-left", "twill-2-2-left"),
        ("twill-1-3", "twill-3-1"),
        ("twill-2-1-left", "twill-1-2-left"),
        ("satin-5", "sateen-5"),
    ],
)
def test_a_common_structure_shows_its_other_system_when_it_is_turned(key, turned):
    # Common practice, no source: where the warp showed, the weft does.
    assert turned_weave(structure(key)) == (turned, None)


@pytest.mark.parametrize("key", structures())
def test_turned_twice_a_common_structure_is_itself(key):
    assert turned_weave(structure(turned_weave(structure(key))[0]))[0] == key


def test_a_draft_turned_lays_every_crossing_the_other_way():
    draft = read_draft("1-4, 3, 2", "1+2, 2+3, 3+4, 1+4", "1, 2, 3, 4, 4, 3")
    key, turned = turned_weave(draft)
    assert key == DRAFT
    assert all(turned.up(end, pick) != draft.up(pick, end) for end in range(24) for pick in range(24))


def test_turned_twice_a_draft_weaves_the_same_cloth():
    draft = read_draft("3 times (1-4), 3 times (4-1)", lift_plan="1+2, 2+3, 3+4, 1+4, 3+4, 2+3")
    again = turned_weave(turned_weave(draft)[1])[1]
    assert all(again.up(end, pick) == draft.up(end, pick) for end in range(48) for pick in range(12))


def test_picks_that_lift_alike_share_a_shaft():
    turned = turned_weave(read_draft("1, 2", lift_plan="1, 1, 2, 2"))[1]
    assert turned.written[0] == "1, 1, 2, 2"
    assert turned.written[3] == "2, 1"


def test_a_draft_that_would_take_too_many_shafts_is_refused():
    lifts = ", ".join(f"{1 + pick % 9}+{11 + pick // 9}" for pick in range(45))
    draft = read_draft("1-16", lift_plan=lifts + ", 10+16")
    with pytest.raises(CalcError, match="46 shafts"):
        turned_weave(draft)
