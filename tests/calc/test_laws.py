"""The laws of the arithmetic: what must hold of every plan, whatever its figures."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.density import UM_PER_CM, UM_PER_INCH, Density
from stash.calc.grist import Grist
from stash.calc.losses import after_losses
from stash.calc.most import Stock, most_pieces
from stash.calc.needs import work_out
from stash.calc.packing import ConeStock
from stash.calc.sections import work_woven
from stash.calc.verdict import Verdict, judge
from stash.calc.warp import length_for, pieces_from_warp, warp_um_by_pieces
from tests.calc.plans import order_of, plans, shares, whole_plans

pytestmark = pytest.mark.once

grists = st.integers(300, 20_000).map(Grist.from_yd_per_lb)


def bare_mass_mg(need, grist):
    """What one cone must hold for the bare need of a shade, in whole mg."""
    return -(-need.total_um * grist.mass_mg // grist.length_um)


@given(whole_plans())
@settings(max_examples=80)
def test_one_more_piece_never_needs_less_of_anything(plan):
    fewer, more = work_out(plan), work_out(replace(plan, pieces=plan.pieces + 1))
    assert more.length.warp_um >= fewer.length.warp_um
    for one, other in zip(fewer.needs, more.needs, strict=True):
        for name in (
            "ends",
            "ends_buffered",
            "warp_um",
            "picks",
            "tails",
            "weft_um",
            "weft_buffered_um",
            "total_um",
        ):
            assert getattr(other, name) >= getattr(one, name)


@given(whole_plans(whole_pick_repeats=False, accents_in_weft=False), st.integers(2, 4))
@settings(max_examples=60)
def test_warp_does_not_change_with_the_picks_and_weft_does(plan, times):
    closer = replace(plan, picks=Density(plan.picks.count * times, plan.picks.per_um))
    before, after = work_out(plan), work_out(closer)
    assert after.width == before.width
    assert after.length == before.length
    assert after.weft.total_picks > before.weft.total_picks
    assert sum(need.weft_um for need in after.needs) > sum(need.weft_um for need in before.needs)


@given(whole_plans())
@settings(max_examples=80)
def test_the_finished_size_reckoned_back_is_the_size_asked_for(plan):
    worked, woven = work_out(plan), work_woven(plan)
    assert after_losses(worked.width.on_loom_um, plan.losses_across) == plan.across_um
    assert after_losses(woven.asked_um, plan.losses_along) == plan.along_um + plan.hem_cloth_um
    assert worked.length.woven_um >= woven.asked_um
    assert worked.length.finished_um >= plan.along_um
    if not (plan.whole_pick_repeats or woven.accent_picks):
        assert worked.length.woven_um == woven.asked_um
        assert worked.length.finished_um == plan.along_um


@given(plans())
@settings(max_examples=80)
def test_repeats_never_make_a_piece_narrower_and_one_fewer_would(plan):
    width = work_out(plan).width
    if plan.order_fills:
        assert width.finished_um >= plan.across_um
        if width.lower:
            assert width.lower.finished_um < plan.across_um
            assert width.ends - width.lower.ends == plan.order.length


@given(whole_plans(board_um=0, keep_back=0), grists)
@settings(max_examples=60, deadline=1000)
def test_exactly_the_bare_need_gives_the_pieces_planned_and_a_gram_less_fewer(plan, grist):
    needs = work_out(plan).needs
    stock = {need.key: Stock(grist, (ConeStock(1, None, bare_mass_mg(need, grist)),)) for need in needs}
    assert most_pieces(plan, stock).pieces == plan.pieces
    for need in needs:
        mass = bare_mass_mg(need, grist)
        if mass >= 1_000:
            less = stock | {need.key: Stock(grist, (ConeStock(1, None, mass - 1_000),))}
            most = most_pieces(plan, less)
            assert most.pieces < plan.pieces
            assert most.stopping_key == need.key


@given(whole_plans())
@settings(max_examples=80)
def test_the_warp_turned_round_gives_the_pieces_planned(plan):
    for beam, length in work_out(plan).lengths.items():
        assert pieces_from_warp(plan, length.exact_um, beam) == plan.pieces
        assert pieces_from_warp(plan, length.exact_um - 1, beam) == plan.pieces - 1
        assert pieces_from_warp(plan, length.warp_um, beam) >= plan.pieces


@given(whole_plans(), st.integers(1, 500))
@settings(max_examples=60)
def test_the_quick_way_to_a_warp_length_is_the_long_one(plan, pieces):
    for beam in work_out(plan).lengths:
        assert warp_um_by_pieces(plan, beam)(pieces) == length_for(plan, pieces, beam).warp_um


@given(whole_plans())
@settings(max_examples=80)
def test_ends_and_picks_by_shade_add_up(plan):
    worked = work_out(plan)
    assert sum(worked.ends_by_key.values()) == worked.width.ends == worked.warp_order.length
    assert sum(need.ends for need in worked.needs) == plan.warps * worked.width.ends
    assert sum(need.picks for need in worked.needs) == plan.warps * worked.weft.total_picks
    for section in worked.weft.sections:
        assert sum(section.counts.values()) == section.picks
    assert sum(section.picks for section in worked.weft.sections) == worked.weft.picks_per_piece
    assert sum(section.woven_um for section in worked.weft.sections) == worked.length.woven_um
    assert all(need.ends_buffered >= need.ends for need in worked.needs)


@given(whole_plans(accents_in_weft=False), st.integers(4, 30), st.integers(4, 30))
@settings(max_examples=60)
def test_an_inch_plan_and_a_centimetre_plan_of_the_same_cloth_agree(plan, ends, picks):
    inches = replace(plan, sett=Density(Fraction(ends)), picks=Density(Fraction(picks)))
    to_cm = Fraction(UM_PER_CM, UM_PER_INCH)
    centimetres = replace(
        plan, sett=Density(ends * to_cm, UM_PER_CM), picks=Density(picks * 10 * to_cm, 10 * UM_PER_CM)
    )
    one, other = work_out(inches), work_out(centimetres)
    assert (one.width, one.length, one.weft, one.needs) == (
        other.width,
        other.length,
        other.weft,
        other.needs,
    )


@given(plans(order=order_of((2, "A"), (1, "B")), balance_ends=0), shares, grists)
@settings(max_examples=60)
def test_more_yarn_never_makes_a_verdict_worse(plan, short_by, grist):
    for need in work_out(plan).needs:
        mass = need.buffered_total_um * grist.mass_mg // grist.length_um + 1
        states = [
            judge(
                need.need, need.warp_um, need.pieces, plan.keep_back, grist, (ConeStock(1, None, int(free)),)
            ).state
            for free in (mass * (1 - short_by), mass, 2 * mass)
        ]
        assert states == sorted(states)
        assert states[-1] is Verdict.ENOUGH


@given(whole_plans(), grists)
@settings(max_examples=60)
def test_what_is_proposed_serves_the_same_need_again(plan, grist):
    """Reserving never worsens one's own verdict: what was put aside suffices for what it was put aside for."""
    for need in work_out(plan).needs:
        mass = bare_mass_mg(need, grist) * 11 // 10
        cones = [ConeStock(1, 7, mass // 2), ConeStock(2, 7, mass - mass // 2), ConeStock(3, None, mass // 3)]
        first = judge(need.need, need.warp_um, need.pieces, plan.keep_back, grist, cones)
        held = {cone.id: 0 for cone in cones}
        for line in first.proposal.lines:
            held[line.cone_id] += line.mass_mg
        kept = [ConeStock(cone.id, cone.lot, held[cone.id]) for cone in cones]
        assert judge(need.need, need.warp_um, need.pieces, plan.keep_back, grist, kept).state == first.state


@given(
    whole_plans(),
    st.lists(st.tuples(st.sampled_from([None, 1, 2]), st.integers(1, 60)), min_size=1, max_size=5),
)
@settings(max_examples=80, deadline=1000)
def test_most_pieces_agree_with_the_verdict_of_the_plan(plan, rows):
    """Also where several lots share a shade; `rows` are lots and per cent of the bare need."""
    grist = Grist.from_yd_per_lb(3360)
    needs = work_out(plan).needs
    stock = {
        need.key: Stock(
            grist,
            [
                ConeStock(number, lot, bare_mass_mg(need, grist) * percent // 50)
                for number, (lot, percent) in enumerate(rows)
            ],
        )
        for need in needs
    }

    def all_served(pieces):
        worked = work_out(replace(plan, pieces=pieces))
        return all(
            judge(need.need, need.warp_um, need.pieces, plan.keep_back, grist, stock[need.key].cones).state
            is not Verdict.SHORT
            for need in worked.needs
        )

    most = most_pieces(plan, stock)
    assert most.pieces == 0 or all_served(most.pieces)
    assert not all_served(most.pieces + 1)
    assert (most.pieces >= plan.pieces) == all_served(plan.pieces)
    assert all(stop.missing_um > 0 for stop in most.stops)
