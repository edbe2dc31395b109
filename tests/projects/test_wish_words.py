"""Wishes for lots in words: every verdict names the wish it is bound by, and what it would be without."""

from types import SimpleNamespace

import pytest

from projects.judging import Judged, ShadeLine
from projects.wish_words import wished_words
from projects.wording import one_line, shade_note, verdict_sentences
from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need
from stash.calc.verdict import judge
from stash.calc.writing import Measures

pytestmark = pytest.mark.once

YARD = 914_400
WARP = 10 * YARD
GRIST = Grist(YARD, 1_000)
NAMES = {7: "7", 9: "9"}


def line(wish, ends=0, weft_yd=0, cones=(), spare=0, lot=None, cone=None):
    """A shade whose cones are (lot, free grams), numbered from 1; a yard weighs a gram."""
    need = Need("A", ends, ends + spare, weft_yd * YARD, weft_yd * YARD, 0, 0, wish, lot, cone)
    stock = [ConeStock(id=at, lot=lot, free_mg=grams * 1000) for at, (lot, grams) in enumerate(cones, 1)]
    verdict = judge(need, WARP, 1, 0, GRIST, stock)
    shade = SimpleNamespace(name="Spruce", pk=1)
    words = wished_words(wish, str(lot), f"K-{cone}")
    return ShadeLine("A", shade, GRIST, need, stock, verdict, WARP, 1, 0, words)


def said(one):
    return verdict_sentences(Judged((one,), WARP, 1), Measures(), NAMES)


def test_short_in_a_lot_counts_the_cones_and_ends_of_that_lot_alone():
    found = said(line("lot", ends=12, lot=7, cones=[(7, 50), (7, 30), (9, 60)]))
    assert found.lead == "Short of Spruce in lot 7 by 4 warp ends, 40.0 yd (40 g)."
    assert found.rest == (
        "2 cones of Spruce in lot 7 give 8 whole ends of 10.00 yd, the plan needs 12. In any lot it would be enough."
    )


def test_short_of_weft_on_a_cone():
    found = said(line("cone", weft_yd=100, cone=1, cones=[(7, 40), (9, 70)]))
    assert found.lead == "Short of Spruce on cone K-1 by 60.0 yd of weft (60 g)."
    assert "40.0 yd are free on cone K-1." in found.rest
    # 110 yd lie in two lots, and the lot does not change inside a piece: any lot would not do either.
    assert "In any lot" not in found.rest


def test_short_of_ends_on_a_cone_names_the_cone_once():
    for grams, ends in ((40, "4 whole ends"), (5, "0 whole ends"), (0, "0 whole ends")):
        found = said(line("cone", ends=6, cone=1, cones=[(7, grams), (7, 70)]))
        assert found.rest.startswith(f"Cone K-1 of Spruce gives {ends} of 10.00 yd, the plan needs 6.")


def test_short_in_one_lot_for_both_says_that_mixed_lots_would_do():
    found = said(line("same", ends=12, cones=[(7, 80), (9, 60)]))
    assert found.lead == "Short of Spruce in one lot by 4 warp ends, 40.0 yd (40 g)."
    assert "1 cone of Spruce in one lot gives 8 whole ends" in found.rest
    assert found.rest.endswith("With lots mixed it would be enough.")


def test_where_any_lot_would_leave_out_the_buffer_alone_it_says_tight():
    found = said(line("lot", ends=14, spare=1, lot=7, cones=[(7, 80), (9, 140)]))
    assert found.rest.endswith("In any lot it would be tight.")
    tight = said(line("lot", ends=14, spare=1, lot=9, cones=[(7, 150), (9, 140)]))
    assert tight.lead.startswith("Tight on Spruce in lot 9:")
    assert "140 yd are free in lot 9. In any lot it would be enough." in tight.rest


def test_nothing_of_a_wish_on_the_shelf_is_a_sentence_of_its_own():
    one = line("cone", ends=2, cone=5, cones=[(7, 80)])
    assert "Nothing of Spruce on cone K-5 can be taken. In any lot it would be enough." in said(one).rest
    assert shade_note(one, NAMES) == "nothing as wished can be taken"


def test_a_list_names_the_wish():
    judged = Judged((line("lot", ends=12, lot=7, cones=[(7, 80)]),), WARP, 1)
    assert one_line(judged, Measures()) == "Short of Spruce in lot 7 by 4 warp ends, 40.0 yd (40 g)."


def test_a_wish_that_costs_nothing_leaves_the_verdict_as_it_is():
    found = said(line("lot", ends=5, lot=7, cones=[(7, 80), (9, 60)]))
    assert (found.state, found.lead) == ("enough", "Enough Spruce, with the buffer.")
