"""The stock bar: amounts to scale on a line of a thousand parts. Its form is the house's own; no source."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stash.calc.bar import LEAST, WIDTH, Span, stock_bar
from stash.calc.errors import CalcError


def test_parts_follow_each_other_to_scale():
    bar = stock_bar(free=1540, reserved=640, on_order=420, keep=520, scale=5200)
    assert bar.free == Span(0, 296)  # 1540 / 5200 = 0.29615
    assert bar.reserved == Span(296, 419)  # 2180 / 5200 = 0.41923
    assert bar.on_order == Span(419, 500)  # 2600 / 5200
    assert bar.keep == 100
    assert not bar.cut


def test_a_need_that_is_covered_has_no_overhang():
    bar = stock_bar(free=2760, need=1486, scale=5200)
    assert bar.need == 286
    assert not bar.missing


def test_a_need_just_as_large_as_what_is_free_is_covered():
    assert not stock_bar(free=700, need=700, scale=1000).missing


def test_a_shortage_reaches_from_the_free_part_to_the_need_over_what_others_hold():
    bar = stock_bar(free=1540, reserved=640, need=2500, scale=5200)
    assert bar.missing == Span(296, 481)
    assert bar.missing.start == bar.free.end < bar.reserved.end < bar.missing.end


def test_undercut_reservations_show_what_is_there_and_what_was_promised():
    # 600 promised, a weigh-in left 480: free is 120 below nothing.
    bar = stock_bar(free=-120, reserved=600, scale=1000)
    assert not bar.free
    assert bar.reserved == Span(0, 480)
    assert bar.undercut == Span(480, 600)


def test_an_order_comes_after_what_is_there_even_when_undercut():
    bar = stock_bar(free=-120, reserved=600, on_order=300, scale=1000)
    assert bar.on_order == Span(480, 780)


def test_a_cone_that_is_gone_while_reserved_is_all_undercut():
    bar = stock_bar(free=-600, reserved=600, scale=1000)
    assert not bar.reserved
    assert bar.undercut == Span(0, 600)


def test_what_goes_beyond_the_scale_is_clamped_and_said():
    bar = stock_bar(free=900, reserved=300, on_order=100, keep=2000, need=1500, scale=1000)
    assert (bar.reserved, bar.on_order) == (Span(900, WIDTH), Span(WIDTH, WIDTH))
    assert bar.keep == bar.need == WIDTH
    assert bar.cut


def test_an_amount_as_large_as_the_scale_is_not_cut():
    bar = stock_bar(free=1000, scale=1000)
    assert bar.free == Span(0, WIDTH)
    assert not bar.cut


def test_the_least_amount_is_seen():
    bar = stock_bar(free=1, reserved=1, on_order=1, scale=10**9)
    assert [span.width for span in (bar.free, bar.reserved, bar.on_order)] == [LEAST] * 3


def test_an_empty_shelf_draws_nothing():
    bar = stock_bar(free=0, scale=0)
    assert not (bar.free or bar.reserved or bar.on_order or bar.missing or bar.undercut or bar.cut)
    assert bar.keep is None and bar.need is None


def test_a_need_of_nothing_is_a_line_at_the_start():
    assert stock_bar(free=5, need=0, scale=10).need == 0


@pytest.mark.parametrize("field", ["reserved", "on_order", "keep", "need", "scale"])
def test_negative_amounts_are_refused_by_name(field):
    amounts = {"free": 1, "scale": 10} | {field: -1}
    with pytest.raises(CalcError) as refusal:
        stock_bar(**amounts)
    assert refusal.value.field == field


amount = st.integers(0, 10**12)


@settings(max_examples=60)
@given(st.integers(-(10**12), 10**12), amount, amount, amount, st.none() | amount, amount)
def test_every_bar_lies_within_its_width_and_in_order(free, reserved, on_order, keep, need, scale):
    bar = stock_bar(free=free, reserved=reserved, on_order=on_order, keep=keep, need=need, scale=scale)
    edges = [
        0,
        bar.free.end,
        bar.reserved.start,
        bar.reserved.end,
        bar.on_order.start,
        bar.on_order.end,
        WIDTH,
    ]
    assert edges == sorted(edges)
    for span in (bar.missing, bar.undercut):
        assert 0 <= span.start <= span.end <= WIDTH
    assert bar.need is None or 0 <= bar.need <= WIDTH
