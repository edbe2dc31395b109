"""Reeds, sleys, heddles and setts against published values (tests/references/equipment.yaml), which name their source.

The table of sleys is arithmetic, the choice for 18 epi our own worked case.
"""

import json
from fractions import Fraction
from math import floor
from pathlib import Path

import pytest
import yaml

from stash.calc.density import UM_PER_10_CM, Density
from stash.calc.grist import Grist
from stash.calc.heddles import heddles_needed
from stash.calc.sett import closest_sett, diameters_per_inch
from stash.calc.sley import Sley, read_sley
from stash.calc.sley_offers import offers
from stash.calc.structure import structure

pytestmark = pytest.mark.once

HERE = Path(__file__).parent.parent / "references"
BY_ID = {one["id"]: one for one in yaml.safe_load((HERE / "equipment.yaml").read_text())}
TABLE = json.loads((HERE / "sley-table.json").read_text())
CASE = json.loads((HERE / "sley-worked-case.json").read_text())
IN = 25_400


def reed_of(name):
    figure = name.split(" ")[0].split("/")[0]
    return Density(Fraction(figure), UM_PER_10_CM if "cm" in name else IN)


def answers(example_id, value):
    example = BY_ID[example_id]
    assert abs(Fraction(value) - Fraction(str(example["answer"]))) <= Fraction(str(example["within"]))


@pytest.mark.parametrize("row", TABLE["rows"], ids=lambda row: row["sley"])
def test_the_table_of_sleys_holds_whole(row):
    sley = Sley(row["ends"], row["dents"])
    assert sley.text == row["sley"]
    for name, printed in zip(TABLE["reeds"], row["epi"], strict=True):
        epi = sley.reached(reed_of(name)).number_in(IN)
        assert abs(epi - Fraction(printed)) <= Fraction(5, 1000)


def test_eighteen_to_the_inch_without_a_reed_of_nine():
    """Our own worked case: 324 ends, reeds of 8, 10 and 15 to the inch and 50 to 10 cm."""
    inputs, answer = CASE["inputs"], CASE["answer"]
    reeds = list(enumerate(map(reed_of, inputs["reeds"])))
    found = offers(Density(Fraction(inputs["epi"])), reeds, inputs["longest_repeat_dents"])
    first = found[0]
    assert (inputs["reeds"][first.reed_key], first.sley.text) == (
        answer["first_choice"]["reed"],
        answer["first_choice"]["sley"],
    )
    exact = [f"{inputs['reeds'][one.reed_key]}: {one.sley.text}" for one in found if one.close == "exact"]
    assert exact == answer["exact"]
    for key, name in enumerate(inputs["reeds"]):
        rows = {one.sley.text: one for one in found if one.reed_key == key}
        assert set(rows) == {line["sley"] for line in CASE["working"][name]}
        for line in CASE["working"][name]:
            offer = rows[line["sley"]]
            used = offer.sley.dents_used(inputs["ends"])
            assert used == line["dents_used"]
            assert float(offer.sett.number_in(IN)) == pytest.approx(line["epi"], abs=0.005)
            assert float(offer.off * 100) == pytest.approx(line["off_percent"], abs=0.005)
            assert float(offer.reed.length_um_of(used) / IN) == pytest.approx(line["width_in"], abs=0.005)


def test_fifty_to_ten_centimetres_is_no_twelve_dent_reed():
    assert reed_of("50 dents/10 cm").number_in(IN) == Fraction(str(CASE["answer"]["metric_reed_is_dpi"]))
    assert read_sley("1-2").reached(reed_of("50 dents/10 cm")).number_in(IN) == Fraction("19.05")


def test_old_reed_counts_are_densities_on_their_own_length():
    """Beers of 40 ends in 36 in (Bradford), dents of 2 in 40 in (Irish), in 36 in (silk), Scotch ell of 37 in."""
    answers("re-bradford-72", Density(Fraction(72 * 40), 36 * IN).number_in(IN))
    printed = Density(Fraction(50 * 40), 36 * IN).number_in(IN)
    assert abs(printed - Fraction(str(BY_ID["re-bradford-50"]["answer"]))) < Fraction(1, 10**6)
    answers("re-irish-1200", Sley(2, 1).reached(Density(Fraction(1200), 40 * IN)).number_in(IN))
    answers("re-silk-1200-4", floor(Sley(4, 1).reached(Density(Fraction(1200), 36 * IN)).number_in(IN)))
    answers("re-scotch-1100-38", floor(Density(Fraction(1100), 37 * IN).number_in(38 * IN) + Fraction(1, 2)))
    answers("re-nimi-radcliffe", Density(Fraction(40)).number_in(2 * IN))
    answers("re-nimi-irish10", Density(Fraction(10 * 100), 40 * IN).number_in(IN))
    answers("re-nimi-bradford-3-72", Sley(3, 1).reached(Density(Fraction(72 * 20), 36 * IN)).number_in(IN))


def test_taffeta_is_sleyed_three_in_eighty_or_four_in_sixty():
    for dents, ends in ((80, 3), (60, 4)):
        answers("re-taffeta-240", Sley(ends, 1).reached(Density(Fraction(dents))).number_in(IN))


def test_two_in_a_dent_of_forty_are_eighty_and_forty_inches_hold_3200():
    reached = Sley(2, 1).reached(Density(Fraction(40)))
    answers("rw-nimi-epi", reached.number_in(IN))
    answers("rw-nimi-ends", reached.number_in(40 * IN))


def test_a_pattern_with_skipped_dents_asks_for_the_reed_of_its_average():
    """48 ends in fours, then single and crowded dents with empty ones between: 71 ends in 25 dents, 100 to the inch."""
    dents = 48 // 4 + 3 * 4 + 1
    answers("ir-taylor-383-dents", dents)
    answers("ir-taylor-383-reed", Fraction(100 * dents, 71).limit_denominator(10_000))


@pytest.mark.parametrize(
    ("example_id", "edge", "body", "in_dent"),
    [("ir-silk-taffeta", 9, 1308, 3), ("ir-silk-surah", 8, 1900, 2)],
)
def test_doubled_selvedge_ends_take_their_dents_and_no_more(example_id, edge, body, in_dent):
    """An end doubled in heddle and dent stands in one place with its twin."""
    places = in_dent * (edge + body + edge)
    answers(example_id, Sley(in_dent, 1).dents_used(places))


@pytest.mark.parametrize(
    ("example_id", "density"),
    [("rw-silk-taffeta", 70), ("rw-silk-surah", 80), ("rw-silk-duchesse", 66), ("rw-silk-pekin", 68)],
)
def test_dents_in_the_reed_for_a_cloth_that_draws_in(example_id, density):
    """The author adds a percentage to the cloth; ours divides it out, and stays within what he rounds to suit."""
    inputs = BY_ID[example_id]["inputs"]
    cloth = Fraction(str(inputs["cloth_width_in"])) * IN
    loss = Fraction(str(inputs["shrinkage_percent"])) / 100
    answers(example_id, floor(Density(Fraction(density)).number_in(cloth / (1 - loss))))


@pytest.mark.parametrize(
    ("example_id", "shafts"), [("he-taffeta", 6), ("he-surah", 4), ("he-duchesse", 8), ("he-pekin", 8)]
)
def test_heddles_to_the_inch_of_every_shaft(example_id, shafts):
    inputs = BY_ID[example_id]["inputs"]
    assert inputs["shafts"] == shafts
    needed = heddles_needed(tuple(range(1, shafts + 1)), inputs["heddles"])
    assert sum(needed.values()) == inputs["heddles"]
    answers(example_id, needed[1] / Fraction(str(inputs["width_in"])))


def test_a_hundred_ends_to_the_inch_on_four_shafts_are_25_heddles_each():
    answers("he-100-4", heddles_needed((1, 2, 3, 4), 100)[1])


def test_a_doubled_end_takes_one_heddle():
    answers("he-taffeta-total", sum(heddles_needed((1, 2, 3, 4, 5, 6), 27 + 3924 + 27).values()))
    answers("he-surah-total", sum(heddles_needed((1, 2, 3, 4), 16 + 3800 + 16).values()))


@pytest.mark.parametrize("count", [16, 20, 30, 32, 36, 44, 50, 80])
def test_diameters_by_taylor(count):
    """His table is smoothed to half threads."""
    answers(
        f"dia-taylor-{count}",
        diameters_per_inch(Grist.from_yd_per_lb(Fraction(840 * count)), Fraction(95, 100)),
    )


def test_diameters_by_ashenhurst_as_taylor_reports_them():
    answers(
        "dia-ashenhurst-32", diameters_per_inch(Grist.from_yd_per_lb(Fraction(840 * 32)), Fraction(9, 10))
    )


@pytest.mark.parametrize(
    ("example_id", "diameters", "key"),
    [
        ("sr-2-1twill-24", "135", "twill-2-1"),
        ("sr-plain-60", "213", "plain"),
        ("sr-plain-20", "123.5", "plain"),
        ("sr-22twill-32", "156", "twill-2-2"),
    ],
)
def test_the_closest_cloth_counts_ends_and_intersections(example_id, diameters, key):
    weave = structure(key)
    answers(example_id, closest_sett(Fraction(diameters), weave.ends, weave.intersections))


def test_from_one_structure_to_another_the_diameters_stay():
    """2/2 twill at 137 to the inch; 5/2/1/2 has 16 intersections in 40 ends."""
    diameters = Fraction(137) * 6 / 4
    answers("sr-22-to-5212", closest_sett(diameters, 40, 16))


def test_from_one_count_to_another_the_sett_goes_with_the_root():
    at = {count: diameters_per_inch(Grist.from_yd_per_lb(Fraction(840 * count))) for count in (32, 44, 60)}
    answers("sr-threads-for-60s", 78 * at[60] / at[32])
    answers("sr-picks-for-60s", 91 * at[60] / at[44])
    count = Fraction(str(BY_ID["sr-count-for-55"]["answer"]))
    ends = 78 * diameters_per_inch(Grist.from_yd_per_lb(count * 840)) / at[32]
    assert float(ends) == pytest.approx(55, abs=0.01)
