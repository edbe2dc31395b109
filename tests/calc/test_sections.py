"""Sections along a piece: stretches of an order, whole repeats, and our own worked case of hems in a finer thread."""

import json
from fractions import Fraction
from math import ceil
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.hems import Hem
from stash.calc.needs import work_out
from stash.calc.sections import PickStretch
from stash.calc.weft import weave, weave_stretches
from tests.calc.plans import IN, a_plan, orders

pytestmark = pytest.mark.once

CASE = json.loads((Path(__file__).parent.parent / "references" / "hems-worked-case.json").read_text())


@given(orders, st.integers(0, 60), st.integers(0, 60))
def test_a_stretch_is_a_part_of_its_order(order, start, picks):
    stretch = PickStretch(order, picks, start)
    keys = order.sequence()
    threads = [keys[(start + at) % len(keys)] for at in range(picks)]
    assert list(stretch.sequence()) == threads
    assert stretch.counts == {key: threads.count(key) for key in set(threads)}
    assert sum(number * times for _, number, times in stretch.passes()) == picks


@given(orders, st.integers(0, 60), st.integers(0, 60), st.integers(0, 8))
def test_an_order_that_runs_on_through_two_stretches_is_woven_as_one(order, first, second, carry):
    parts = (PickStretch(order, first), PickStretch(order, second, first))
    assert weave_stretches(parts, carry) == weave(order, first + second, carry)


def test_whole_repeats_are_rounded_up_and_the_length_that_results_is_known():
    """20 in at 10 picks are 200; in whole repeats of 24 they are 216, 21.6 in."""
    worked = work_out(a_plan(pick_order=read_order("12 A, 12 B"), whole_pick_repeats=True))
    assert worked.weft.picks_per_piece == 216
    assert worked.length.woven_um == worked.length.finished_um == Fraction(216 * IN, 10)
    assert worked.length.exact_um == 4 * Fraction(216 * IN, 10)


def test_whole_repeats_that_come_out_change_nothing():
    plain, whole = (
        a_plan(pick_order=read_order("10 A")),
        a_plan(pick_order=read_order("10 A"), whole_pick_repeats=True),
    )
    assert work_out(plain).length == work_out(whole).length
    assert work_out(plain).weft == work_out(whole).weft


def test_a_repeat_longer_than_the_piece_is_woven_once():
    worked = work_out(a_plan(along_um=IN, pick_order=read_order("12 A"), whole_pick_repeats=True))
    assert worked.weft.picks_per_piece == 12
    assert worked.length.finished_um == Fraction(12 * IN, 10)


def test_whole_repeats_are_of_the_body_and_the_hems_keep_their_own_length():
    hem = Hem("double", IN)
    worked = work_out(a_plan(hem=hem, pick_order=read_order("12 A, 12 B"), whole_pick_repeats=True))
    assert [one.picks for one in worked.weft.sections] == [20, 216, 20]
    assert worked.length.woven_um == 4 * IN + Fraction(216 * IN, 10)


def test_a_body_of_more_picks_than_can_be_planned_names_a_field():
    with pytest.raises(CalcError) as refused:
        work_out(a_plan(along_um=999_999_999, picks=Density(Fraction(100_000))))
    assert refused.value.field == "along_um"


def towels():
    """Our own worked case (invented data): huck-lace towels with hems in a finer thread."""
    given_ = CASE["inputs"]
    return a_plan(
        pieces=given_["towels"],
        along_um=22 * IN,
        losses_along=(Fraction(9, 100),),
        hem=Hem(
            "strip", 3 * IN // 2, picks=Density(Fraction(given_["ppi_hem"])), pick_order=read_order("1 H")
        ),
        order=read_order("31 A"),
        order_fills=False,
        sett=Density(Fraction(2)),
        picks=Density(Fraction(given_["ppi_body"])),
        pick_order=read_order("5 W"),
        whole_pick_repeats=True,
        weft_take_up=Fraction(7, 100),
    )


def test_the_towels_of_our_worked_case_have_its_picks():
    weft = work_out(towels()).weft
    hem, body, last = weft.sections
    assert body.picks == CASE["working"]["picks_body"] == 585
    assert hem.picks + last.picks == CASE["working"]["picks_hems"] == 106
    assert round(float(weft.pick_um / IN), 3) == CASE["working"]["pick_in"]


def test_the_towels_of_our_worked_case_need_its_yarn():
    needs = {need.key: need for need in work_out(towels()).needs}
    grists = {
        key: Grist.from_yd_per_lb(int(CASE["inputs"]["yd_per_lb"][part])) for key, part in PARTS.items()
    }
    answer = CASE["answer"]
    for key, part in PARTS.items():
        piece, need = answer["per_towel"], needs[key]
        assert round(need.weft_piece_um / (36 * IN), 1) == piece[f"{part}_yd"]
        assert round(float(grists[key].mass_mg_of(need.weft_piece_um)) / 1000, 1) == piece[f"{part}_g"]
        with_buffer = need.weft_um * (1 + Fraction(8, 100))
        assert round(float(grists[key].mass_mg_of(with_buffer)) / 1000, 1) == answer["all"][f"{part}_g"]
    body_g = grists["W"].mass_mg_of(needs["W"].weft_piece_um) / 1000
    assert ceil(body_g / 11) == answer["per_towel"]["body_bobbins"]


def test_hems_reckoned_in_the_body_thread_would_be_the_known_mistake():
    wrong = CASE["wrong_answers_to_catch"]["hems woven and reckoned in the body thread"]["extra_body_g"]
    needs = {need.key: need for need in work_out(towels()).needs}
    assert needs["W"].picks == 6 * 585, f"the body's weft holds hem picks: about {wrong} g too much"


PARTS = {"W": "body", "H": "hem"}
