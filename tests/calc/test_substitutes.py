"""Another shade in place of one: what is near enough, how it is ranked, and what it does to sett and need."""

from fractions import Fraction

import pytest

from stash.calc.colour import apart
from stash.calc.density import UM_PER_CM, Density
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.lot_wish import ShadeWish
from stash.calc.needs import work_out
from stash.calc.substitutes import sett_for, substitutes, warp_share
from stash.calc.ways.near_shade import Neighbour
from stash.calc.ways.tried import try_plan
from tests.calc.plans import YD, a_plan, order_of
from tests.calc.ways.shelves import YARD_A_GRAM, cone, scarves, shelf

pytestmark = pytest.mark.once

GREEN, NEARER, FARTHER, RED = "#2f5d50", "#315f52", "#3d7060", "#8c2f2f"
FINER = Grist(YD * 11 // 10, 1000)


def neighbour(number, colour, yards=1000, grist=YARD_A_GRAM):
    return Neighbour(number, colour, grist, [cone(100 + number, yards, number)] if yards else [])


def found(neighbours, key="A", plan=None, **stock):
    before = try_plan(plan or scarves(), shelf(**{"A": 10, "B": 1000} | stock))
    return substitutes(before, key, GREEN, neighbours)


# The trade's rule: new ends per length = old x sqrt(new yd/lb / old yd/lb) (common practice, no source).


@pytest.mark.parametrize(
    "old, own, other, expected",
    [
        (20, 3360, 3696, "21"),  # 20 x sqrt(1.1) = 20.976
        (20, 3360, 3024, "19"),  # 20 x sqrt(0.9) = 18.974
        (24, 4200, 3800, "22.8"),  # 24 x sqrt(0.90476) = 22.829
        (20, 3360, 3360, "20"),
        (20, 3360, 3500, "20"),  # 20.413, within 2.5 % of 20
    ],
)
def test_the_sett_goes_as_the_square_root_of_the_length_per_weight(old, own, other, expected):
    grists = Grist.from_yd_per_lb(own), Grist.from_yd_per_lb(other)
    assert sett_for(Density(Fraction(old)), *grists) == Density(Fraction(expected))


def test_a_sett_stays_on_the_length_on_which_it_is_given():
    grists = Grist.from_yd_per_lb(3360), Grist.from_yd_per_lb(3696)
    assert sett_for(Density(Fraction(8), UM_PER_CM), *grists) == Density(Fraction("8.4"), UM_PER_CM)


def test_where_it_is_a_part_of_the_ends_the_rest_stays_as_thick():
    # Half of the ends are 1 / sqrt(0.9) = 1.0541 as thick: 20 / 1.02705 = 19.473.
    grists = Grist.from_yd_per_lb(3360), Grist.from_yd_per_lb(3024)
    assert sett_for(Density(Fraction(20)), *grists, Fraction(1, 2)) == Density(Fraction("19.5"))
    assert sett_for(Density(Fraction(20)), *grists, Fraction(0)) == Density(Fraction(20))


def test_a_share_beyond_all_ends_is_refused():
    with pytest.raises(CalcError) as caught:
        sett_for(Density(Fraction(20)), FINER, FINER, Fraction(2))
    assert caught.value.field == "share"


def test_near_colours_come_first_and_of_those_what_serves_the_whole():
    listed = found(
        [
            neighbour(1, RED),
            neighbour(2, NEARER, yards=5),
            neighbour(3, FARTHER),
            neighbour(4, ""),
            neighbour(5, NEARER, yards=0),
        ]
    )
    assert [one.neighbour.id for one in listed] == [3, 2, 5, 1, 4]
    assert [one.serves for one in listed] == [True, False, False, True, True]
    assert listed[1].gap == apart(GREEN, NEARER)


def test_a_yarn_more_than_10_percent_apart_in_length_per_mass_is_left_out():
    assert not found([neighbour(1, NEARER, grist=Grist(YD * 1101 // 1000, 1000))])


def test_the_need_is_worked_out_anew_at_the_new_sett():
    plan = a_plan(order=order_of((1, "A")), pick_order=order_of((1, "A")))
    (one,) = found([neighbour(1, NEARER, grist=FINER)], plan=plan)
    assert one.at_sett is not None
    assert one.at_sett.plan.sett == Density(Fraction("12.6"))  # 12 x sqrt(1.1) = 12.586
    assert one.as_it_is.worked.width.ends == 168
    assert one.at_sett.worked.width.ends == 177  # 14 in at 12.6
    assert one.asked.ends == 177


def test_a_shade_of_the_weft_alone_leaves_the_sett():
    (one,) = found([neighbour(1, NEARER, grist=FINER)], key="B")
    assert warp_share(work_out(scarves()), "B") == 0
    assert one.at_sett is None


def test_the_same_grist_leaves_the_sett():
    (one,) = found([neighbour(1, NEARER)])
    assert one.at_sett is None
    assert one.best is one.as_it_is


def test_a_wish_for_a_lot_of_the_old_shade_does_not_hold_for_the_new_one():
    plan = scarves(wishes=(ShadeWish("A", "lot", lot_id=7),))
    (one,) = found([neighbour(1, NEARER)], plan=plan)
    assert one.serves
    assert one.best.plan.wishes == ()


def test_one_lot_for_warp_and_weft_is_wished_of_the_new_one_too():
    plan = scarves(wishes=(ShadeWish("A", "same"),))
    (one,) = found([neighbour(1, NEARER)], plan=plan)
    assert one.best.plan.wishes == plan.wishes
    assert one.asked.wish == "same"


def test_what_must_be_bought_is_counted_in_whole_put_ups_for_the_whole_buffer():
    (one,) = found([neighbour(1, NEARER, yards=0)])
    need = one.asked.buffered_total_um
    bought = one.to_buy(100_000)
    assert not one.serves
    assert bought.number * 100 * YD >= need > (bought.number - 2) * 100 * YD
    assert found([neighbour(1, NEARER)])[0].to_buy(100_000) is None


def test_a_key_that_the_plan_does_not_have_is_refused():
    with pytest.raises(CalcError) as caught:
        found([neighbour(1, NEARER)], key="Z")
    assert caught.value.field == "key"
