"""Structures: the interlacement of plain weave and simple twills."""

from fractions import Fraction

import pytest

from stash.calc.errors import CalcError
from stash.calc.structure import PLAIN_WEAVE, Structure, structure, structures, twill


def drawn(cloth: Structure) -> list[str]:
    """Top pick first, as on point paper: x where the warp lies on top."""
    return ["".join("x" if up else "." for up in row) for row in reversed(cloth.rows)]


def test_plain_weave_alternates_both_ways():
    assert drawn(PLAIN_WEAVE) == [".x", "x."]


def test_the_line_of_a_twill_rises_to_the_right():
    assert drawn(structure("twill-2-2")) == ["x..x", "..xx", ".xx.", "xx.."]
    assert drawn(structure("twill-1-3")) == ["...x", "..x.", ".x..", "x..."]


def test_the_line_of_a_left_twill_rises_to_the_left():
    assert drawn(structure("twill-1-3-left")) == ["x...", ".x..", "..x.", "...x"]


@pytest.mark.parametrize(
    "key, up, down", [("plain", 1, 1), ("twill-2-2", 2, 2), ("twill-1-2", 1, 2), ("twill-3-1", 3, 1)]
)
def test_the_figure_says_how_many_ends_lie_up_and_down_on_every_pick(key, up, down):
    cloth = structure(key)
    assert cloth.written == f"{up}/{down}"
    for row in cloth.rows:
        assert (row.count(True), row.count(False)) == (up, down)
    for column in cloth.columns:
        assert (column.count(True), column.count(False)) == (up, down)


def test_the_back_of_a_warp_faced_twill_is_the_weft_faced_one():
    back = [tuple(not up for up in row) for row in structure("twill-3-1").rows]
    # Shifted along the pick only: the same structure begun at another end.
    shifted = [row[-3:] + row[:-3] for row in structure("twill-1-3").rows]
    assert back == shifted


@pytest.mark.parametrize("key, shafts", [("plain", 2), ("twill-1-2", 3), ("twill-2-1", 3), ("twill-2-2", 4)])
def test_the_least_number_of_shafts_is_counted(key, shafts):
    assert structure(key).shafts == shafts


@pytest.mark.parametrize(
    "key, diameters, threads",
    [
        # John T. Taylor, Cotton Weaving and Designing, 6th ed., 1909, ch. XII, p. 338: 2/1 twill counts 3 ends + 2
        # intersections, 135 diameters to the inch give 81 threads; plain, 213 give 106.5.
        ("twill-2-1", 135, 81),
        ("plain", 213, Fraction(213, 2)),
    ],
)
def test_intersections_give_the_published_closest_sett(key, diameters, threads):
    cloth = structure(key)
    assert Fraction(diameters * cloth.ends, cloth.ends + cloth.intersections) == threads


def test_a_2_2_twill_counts_four_ends_and_two_intersections():
    # Taylor 1909, ch. XII, p. 334, counts it so.
    assert (structure("twill-2-2").ends, structure("twill-2-2").intersections) == (4, 2)


def test_crossings_go_on_beyond_the_repeat():
    cloth = structure("twill-2-2")
    assert [cloth.up(end, 5) for end in range(4, 12)] == [cloth.up(end, 1) for end in range(8)]
    assert cloth.up(-1, -1) == cloth.up(3, 3)


def test_every_key_has_a_name_of_its_own():
    assert len({cloth.name for cloth in structures().values()}) == len(structures())


def test_an_unknown_key_says_what_is_known():
    with pytest.raises(CalcError, match="2/2 twill") as refusal:
        structure("satin")
    assert refusal.value.field == "structure"


@pytest.mark.parametrize(
    "rows",
    [(), ((),), ((True, False), (True,)), ((True, True), (False, True)), ((True, False), (True, False))],
)
def test_cloth_that_would_fall_apart_is_refused(rows):
    with pytest.raises(CalcError):
        Structure("none", "0/0", rows)


@pytest.mark.parametrize("up, down", [(0, 2), (2, 0), (1, 1)])
def test_a_twill_needs_ends_up_and_down_and_is_not_plain(up, down):
    with pytest.raises(CalcError):
        twill(up, down)
