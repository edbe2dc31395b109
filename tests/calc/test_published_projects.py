"""Whole projects of a textbook of 1921, from the width of the cloth to the last ounce (references/dispositions.yaml).

A. Wolfensberger, Theory of Silk Weaving, 2nd ed., New York 1921, pp. 76-99: ends with doubled selvedges, heddles
and dents, warp length by the take-up of each beam, and the weight of every colour, all out of one plan each.
"""

from fractions import Fraction
from pathlib import Path

import pytest
import yaml

from stash.calc.beams import Beam
from stash.calc.colour_order import read_order
from stash.calc.density import Density
from stash.calc.grist import Grist
from stash.calc.needs import work_out
from stash.calc.packing import ConeStock
from stash.calc.selvedges import Selvedges
from stash.calc.verdict import Verdict, judge
from tests.calc.plans import IN, YD, a_plan

pytestmark = pytest.mark.once

SHEETS = yaml.safe_load((Path(__file__).parent.parent / "references" / "dispositions.yaml").read_text())
BY_ID = {sheet["id"]: sheet for sheet in SHEETS}
MG_PER_LB = Fraction(45_359_237, 100)


def exact(value):
    return Fraction(str(value))


def grist_of(yarn):
    """Silk in drams a thousand yards (256,000 yd/lb at 1), or cotton in hanks of 840 yd a pound."""
    return Grist.from_yd_per_lb(
        256_000 / exact(yarn["drams"]) if "drams" in yarn else 840 * exact(yarn["hanks"])
    )


def plan_of(sheet, **changes):
    """One piece as long as the cloth, in the reed as wide as his weft is reckoned, unless the width is asked for."""
    own, further = sheet["warps"][1], {number: warp for number, warp in sheet["warps"].items() if number > 1}
    order = read_order(sheet["line"])
    facts = {
        "pieces": 1,
        "along_um": sheet["cloth_yd"] * YD,
        "take_up": exact(own["take_up_percent"]) / 100,
        "order": order,
        "order_fills": sheet["fills"],
        "sett": Density(Fraction(order.length, sheet["weft"]["reed_width_in"])),
        "picks": Density(Fraction(sheet["weft"]["picks_per_in"])),
        "pick_order": read_order("1 Z"),
        "selvedges": Selvedges(doubled_ends=sheet["doubled"]),
        "warp_buffer": Fraction(4, 100),
        "weft_buffer": exact(sheet["weft"]["waste_percent"]) / 100,
        "beams": tuple(
            Beam(number, exact(warp["take_up_percent"]) / 100, tuple(warp["keys"]))
            for number, warp in further.items()
        ),
    }
    if sheet["fills"]:
        added = exact(sheet["width_added_percent"]) / 100
        facts |= {
            "across_um": int(exact(sheet["cloth_width_in"]) * IN),
            "losses_across": (added / (1 + added),),
            "sett": Density(Fraction(sheet["dents_per_in"] * sheet["ends_per_dent"])),
        }
    return a_plan(**facts | changes)


def needs_of(sheet, **changes):
    return {need.key: need for need in work_out(plan_of(sheet, **changes)).needs}


every_sheet = pytest.mark.parametrize("sheet", [pytest.param(one, id=one["id"]) for one in SHEETS])


@every_sheet
def test_ends_of_each_colour_are_the_printed_ones(sheet):
    worked = work_out(plan_of(sheet))
    assert worked.width.ends == sheet["ends"]
    assert worked.ends_by_key == {key: yarn["ends"] for key, yarn in sheet["warp"].items()}


@pytest.mark.parametrize("sheet", [BY_ID["taffeta"], BY_ID["surah"]], ids=["taffeta", "surah"])
def test_a_doubled_end_takes_one_heddle_and_the_dents_are_the_printed_ones(sheet):
    """pp. 76 and 80: 27 + 3924 + 27 and 16 + 3800 + 16 heddles; so many ends in a dent, doubled ones as one."""
    layout = work_out(plan_of(sheet)).layout
    assert layout.heddles == sheet["heddles"]
    assert Fraction(layout.places, sheet["ends_per_dent"]) == sheet["dents"]


@every_sheet
def test_each_beam_is_as_long_as_printed(sheet):
    lengths = work_out(plan_of(sheet)).warps_um
    assert lengths == {number: warp["warp_yd"] * YD for number, warp in sheet["warps"].items()}


@every_sheet
def test_every_colour_of_the_warp_weighs_what_is_printed(sheet):
    needs = needs_of(sheet)
    for key, yarn in sheet["warp"].items():
        pounds = grist_of(yarn).mass_mg_of(needs[key].warp_total_um) / MG_PER_LB
        pounds *= 1 + exact(yarn["waste_percent"]) / 100
        assert abs(pounds - exact(yarn["pounds"])) <= exact(yarn["within"])


@every_sheet
def test_the_weft_weighs_what_is_printed_at_his_round_width(sheet):
    """He reckons the pick at the width in the reed rounded to an inch; ours is the true width, within 1 %."""
    yarn = sheet["weft"]
    round_width = {"order_fills": False, "order": read_order(f"{yarn['reed_width_in']} A"), "beams": ()}
    plain = {"sett": Density(Fraction(1)), "selvedges": Selvedges()}
    weft_um = needs_of(sheet, **round_width, **plain)["Z"].weft_buffered_um
    pounds = grist_of(yarn).mass_mg_of(weft_um) / MG_PER_LB
    assert abs(pounds - exact(yarn["pounds"])) <= exact(yarn["within"])
    true = grist_of(yarn).mass_mg_of(needs_of(sheet)["Z"].weft_buffered_um) / MG_PER_LB
    assert abs(true - pounds) <= pounds / 100


@every_sheet
def test_the_printed_waste_is_the_buffer_and_a_shelf_that_holds_it_is_enough(sheet):
    """His waste on the material is our buffer: with what he orders nobody runs short, with an end less one does."""
    plan = plan_of(sheet)
    for need in work_out(plan).needs:
        yarn = sheet["warp"].get(need.key, sheet["weft"])
        grist = grist_of(yarn)
        ordered = -(-need.buffered_total_um * grist.mass_mg // grist.length_um)
        bare = -(-need.total_um * grist.mass_mg // grist.length_um)

        def state(mass, need=need, grist=grist):
            cones = (ConeStock(1, None, mass),)
            return judge(need.need, need.warp_um, need.pieces, plan.keep_back, grist, cones).state

        assert state(ordered) is Verdict.ENOUGH
        assert state(bare) is Verdict.TIGHT
        assert state(bare - 1_000) is Verdict.SHORT


def test_two_weaves_side_by_side_need_two_warp_lengths():
    """p. 97: 106 yd of satin and 110 yd of repp for 100 yd; on one beam the cotton would be 20 yd in 500 short."""
    needs = needs_of(BY_ID["pekin"])
    assert (needs["A"].beam, needs["B"].beam, needs["C"].beam) == (1, 1, 2)
    assert needs["C"].warp_total_um == 504 * 110 * YD
    one_beam = needs_of(BY_ID["pekin"], beams=())
    assert one_beam["C"].warp_total_um == 504 * 106 * YD
    assert one_beam["A"] == needs["A"]
