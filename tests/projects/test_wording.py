"""Verdicts in words: every sentence with its figures, what is missing rounded up, what is free rounded down."""

from types import SimpleNamespace

import pytest

from projects.judging import Judged, ShadeLine
from projects.wording import flag, most_sentence, one_line, shade_note, together, verdict_sentences
from stash.calc.grist import Grist
from stash.calc.most import Most, Stop
from stash.calc.packing import ConeStock, Need
from stash.calc.verdict import judge
from stash.calc.writing import Measures

pytestmark = pytest.mark.once

YARD = 914_400
MEASURES = Measures()
# A yarn of which a yard weighs a gram, so that figures can be read off.
GRIST = Grist(YARD, 1_000)
WARP = 10 * YARD


def line(name="Spruce", ends=0, weft_yd=0, cones=(), pieces=1, ends_buffered=None, weft_buffered_yd=None):
    """A shade whose cones are (lot, free grams)."""
    need = Need(
        key="A",
        ends=ends,
        ends_buffered=ends if ends_buffered is None else ends_buffered,
        weft_piece_um=weft_yd * YARD,
        weft_piece_buffered_um=(weft_yd if weft_buffered_yd is None else weft_buffered_yd) * YARD,
        weft_sample_um=0,
        weft_sample_buffered_um=0,
    )
    stock = [ConeStock(id=at, lot=lot, free_mg=grams * 1000) for at, (lot, grams) in enumerate(cones, 1)]
    verdict = judge(need, WARP, pieces, 0, GRIST, stock)
    shade = SimpleNamespace(name=name, pk=1)
    return ShadeLine("A", shade, GRIST, need, stock, verdict, WARP, pieces, 0)


def said(*lines, names=None, most=()):
    return verdict_sentences(Judged(lines, WARP, 1), MEASURES, names or {7: "7", 9: "9"}, most)


def test_short_of_whole_ends_counts_them_and_says_what_the_cones_give():
    found = said(line(ends=120, cones=[(7, 399), (7, 399), (7, 229)]))
    assert found.state == "short"
    # 39 + 39 + 22 ends of 10 yd: the sum of the floors, not the floor of the sum, which would be 102.
    assert found.lead == "Short of Spruce by 20 warp ends, 200 yd (200 g)."
    assert found.rest.startswith("3 cones of Spruce give 100 whole ends of 10.00 yd, the plan needs 120.")


def test_short_of_weft_says_need_and_what_is_free():
    found = said(line(weft_yd=100, cones=[(7, 40)]))
    assert found.lead == "Short of Spruce by 60.0 yd of weft (60 g)."
    assert "needs 100 yd of Spruce without buffer; 40.0 yd are free." in found.rest


def test_a_shade_without_a_cone_says_so():
    assert "No cone of Spruce is on the shelf." in said(line(weft_yd=5)).rest


def test_several_short_shades_all_stand_in_the_sentence():
    found = said(line("Spruce", weft_yd=10), line("Oat", weft_yd=20), line("Rust", weft_yd=1, cones=[(7, 9)]))
    assert found.lead == "Short of Spruce by 10.0 yd of weft (10 g) and Oat by 20.0 yd of weft (20 g)."
    assert found.rest.endswith("Rust is enough.")


def test_tight_means_the_plan_but_not_its_buffer():
    found = said(line(weft_yd=100, weft_buffered_yd=108, cones=[(7, 104)]))
    assert found.state == "tight"
    assert found.lead == "Tight on Spruce: enough for the plan, not for its whole buffer."
    assert "with its buffer 108 yd; 104 yd are free" in found.rest


def test_enough_names_its_shades():
    assert said(line(weft_yd=1, cones=[(7, 5)])).lead == "Enough Spruce, with the buffer."


def test_mixed_lots_are_said_beside_enough():
    found = said(line(ends=12, cones=[(7, 80), (9, 50)]))
    assert found.state == "enough"
    assert "The warp of Spruce mixes lots: 8 ends of lot 7 and 4 ends of lot 9." in found.more


def test_each_unknown_lot_is_a_lot_of_its_own():
    found = said(line(ends=12, cones=[(None, 80), (None, 50)]))
    assert "12 ends of an unknown lot" in " ".join(found.more)
    assert flag(line(ends=12, cones=[(None, 80), (None, 50)]), MEASURES) == ("tight", "enough; lots mixed")


def test_weft_of_another_lot_than_the_warp_is_said():
    found = said(line(ends=8, weft_yd=40, cones=[(7, 85), (9, 50)]))
    assert found.state == "enough"
    assert "The weft of Spruce comes from another lot than its warp." in found.more


def test_a_lot_that_makes_no_whole_piece_is_explained():
    found = said(line(weft_yd=30, pieces=2, cones=[(7, 29), (9, 31)]))
    assert found.state == "short"
    assert "the lot does not change inside a piece" in found.rest


def test_no_shades_is_no_verdict():
    assert said().lead == "No shades yet."


@pytest.mark.parametrize(
    ("most", "sentence"),
    [
        (
            Most(9, (Stop("A", 0, 0, 75 * YARD),)),
            "With what is free for it you can weave 9 mats; one more stops at Spruce weft: 75.0 yd missing.",
        ),
        (
            Most(1, (Stop("A", 2, 20 * YARD, 0),)),
            "With what is free for it you can weave 1 piece; one more stops at Spruce warp: 2 ends missing, 20.0 yd.",
        ),
        (
            Most(0, (Stop("A", 0, 0, 75 * YARD),)),
            "With what is free for it you can weave none; the first stops at Spruce weft: 75.0 yd missing.",
        ),
        (Most(100, ()), "With what is free for it you can weave 100 mats: the shelf is no limit."),
    ],
)
def test_the_most_pieces_and_what_stops_the_next(most, sentence):
    judged = Judged((line(weft_yd=1),), WARP, 1)
    assert most_sentence(most, judged, MEASURES, 1, "mats") == sentence


def test_a_missing_hair_is_rounded_up_and_a_free_one_down():
    # 7 g are 7 yd; of 7.04 yd needed 0.04 yd are missing: never "0.0 yd".
    need = Need("A", 0, 0, 7 * YARD + 36_576, 7 * YARD + 36_576, 0, 0)
    stock = [ConeStock(1, 7, 7_000)]
    shade = SimpleNamespace(name="Spruce", pk=1)
    verdict = judge(need, WARP, 1, 0, GRIST, stock)
    found = said(ShadeLine("A", shade, GRIST, need, stock, verdict, WARP, 1, 0))
    assert found.lead == "Short of Spruce by 0.1 yd of weft (0.1 g)."
    assert "needs 7.1 yd of Spruce without buffer; 7.0 yd are free." in found.rest


def test_the_note_under_a_shade_says_which_lot_serves():
    one = line(ends=8, cones=[(7, 85), (9, 20)])
    assert shade_note(one, {7: "7", 9: "9"}) == "Lot 7 serves every end, from one cone"
    two = line(ends=12, cones=[(7, 80), (9, 50)])
    assert shade_note(two, {7: "7", 9: "9"}) == "Lot 7 serves 8 whole ends and lot 9 5, of 12"
    assert shade_note(line(ends=1), {}) == "not on the shelf"
    assert shade_note(line(weft_yd=1, cones=[(7, 5)]), {}) == "weft only, from one lot"


def test_the_line_in_a_list_is_short():
    judged = Judged((line(weft_yd=100, cones=[(7, 40)]),), WARP, 1)
    assert one_line(judged, MEASURES) == "Short of Spruce by 60.0 yd of weft (60 g)."


def test_words_are_joined_as_people_do():
    assert [together(words) for words in ([], ["A"], ["A", "B"], ["A", "B", "C"])] == [
        "",
        "A",
        "A and B",
        "A, B and C",
    ]
