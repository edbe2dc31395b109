"""What must hold of every way out, whatever the plan and the shelf."""

from dataclasses import dataclass
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.most import Stock
from stash.calc.needs import work_out
from stash.calc.packing import ConeStock
from stash.calc.plan import Plan
from stash.calc.verdict import Verdict
from stash.calc.ways.less_waste import Waste
from stash.calc.ways.moving import Demand, Later, Moving, taken_mg
from stash.calc.ways.near_shade import Neighbour
from stash.calc.ways.other_lots import LotInsidePiece, TwoWarps
from stash.calc.ways.tried import try_plan
from stash.calc.ways.ways_out import Surroundings, WaysOut, ways_out
from tests.calc.plans import IN, plans

pytestmark = pytest.mark.once

COTTON = Grist.from_yd_per_lb(Fraction(3_360))


@dataclass(frozen=True, slots=True, repr=False)
class Shortage:
    """A plan and its surroundings; written short, since both together fill a page."""

    plan: Plan
    around: Surroundings

    @property
    def found(self) -> WaysOut:
        return ways_out(self.plan, self.around)


@st.composite
def shortages(draw) -> Shortage:
    """A plan over a shelf that holds from nothing to more than it needs of each shade, in up to four cones and lots,
    with a neighbour, a later claim and a loom around it."""
    plan = draw(plans(keep_back=draw(st.integers(0, 1)), warps=draw(st.integers(1, 3))))
    try:
        worked = work_out(plan)
    except CalcError:
        reject()
    stock, later_held, demands = {}, {}, {}
    number = 0
    for need in worked.needs:
        whole = int(COTTON.mass_mg_of(need.buffered_total_um)) + 1
        cones = []
        for _ in range(draw(st.integers(0, 4))):
            number += 1
            lot = draw(st.one_of(st.none(), st.integers(1, 3)))
            cones.append(ConeStock(number, lot, whole * draw(st.integers(0, 60)) // 100))
        stock[need.key] = Stock(COTTON, cones)
        later_held[need.key] = {cone.id: whole * draw(st.integers(0, 30)) // 100 for cone in cones}
        demands[need.key] = Demand(need.need, need.warp_um, need.pieces, 0, COTTON)
    most = max(int(COTTON.mass_mg_of(need.buffered_total_um)) for need in worked.needs) + 1
    neighbour = Neighbour(900, "#2f5d50", COTTON, [ConeStock(901, 9, 2 * most)])
    return Shortage(
        plan,
        Surroundings(
            stock=stock,
            colours={need.key: "#305040" for need in worked.needs},
            neighbours={need.key: [neighbour] for need in worked.needs},
            put_ups={need.key: most // 3 + 1 for need in worked.needs[:1]},
            later=[Later(7, later_held, demands)],
            wastes=[Waste("tied", 12 * IN), Waste("wide", 20 * IN, 10**7)],
            usable_um=draw(st.one_of(st.none(), st.integers(10, 80).map(lambda inches: inches * IN))),
            step_um=IN // 8,
        ),
    )


@given(shortages())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_whatever_cures_is_a_cure_when_it_is_worked_out_anew(shortage):
    for way in shortage.found.curing:
        if isinstance(way, LotInsidePiece):
            continue  # packing does not let a lot change inside a piece: that is what it says
        again = try_plan(way.after.plan, way.after.stock, way.after.usable_um)
        assert again.state != Verdict.SHORT
        assert again.fits


@given(shortages())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_way_has_a_closer_sett_or_leaves_more_missing_unless_it_makes_the_warp_fit_a_loom(shortage):
    for way in shortage.found.ways:
        assert way.after.plan.sett == way.before.plan.sett
        now_fits = way.after.fits and not way.before.fits
        assert way.cures or now_fits or way.after.short_mass_mg <= way.before.short_mass_mg


@given(shortages())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_ways_are_named_only_where_one_is_wanted(shortage):
    found = shortage.found
    assert not found.ways or found.wanted


@given(shortages())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_a_move_takes_no_more_of_a_cone_than_is_free_and_held(shortage):
    for way in shortage.found.ways:
        if not isinstance(way, Moving):
            continue
        for key, mass in way.moved_mg.items():
            free = {cone.id: cone.free_mg for cone in way.after.stock[key].cones}
            assert mass > 0
            taken = taken_mg(way.after.verdicts[key].proposal.lines)
            assert all(taken[cone] <= free[cone] for cone in taken)


@given(shortages())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_two_warps_are_all_the_pieces_and_mix_no_lots(shortage):
    for way in shortage.found.ways:
        if isinstance(way, TwoWarps):
            assert way.after.plan.pieces + way.second.plan.pieces == way.before.plan.pieces
            assert not way.after.mixed
            assert not way.second.mixed
