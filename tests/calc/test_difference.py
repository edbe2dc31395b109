"""A stocktake's difference: what is noise, and which reasons explain what is not."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.difference import (
    DIVISION_MG,
    Held,
    Neighbour,
    Weighed,
    Why,
    likely_reasons,
    noise_mg,
    noise_share,
)
from stash.calc.errors import CalcError

pytestmark = pytest.mark.once

G = 1_000
COTTON, WOOL = (("cotton", 100),), (("merino wool", 100),)


def weighed(books: int, net: int, *, gross: bool = True, core: int | None = 32, **facts: Any) -> Weighed:
    """In grams; the scale says what net and core come to."""
    scale = net + (core or 0) if gross else net
    return Weighed(
        books_mg=books * G,
        scale_mg=scale * G,
        net_mg=net * G,
        is_gross=gross,
        core_mg=None if core is None else core * G,
        **{"fibres": COTTON} | facts,
    )


def whys(found: Weighed, **facts: Any) -> list[Why]:
    return [one.why for one in likely_reasons(found, **facts)]


# The shares are common practice, no source (calculations.md).
@pytest.mark.parametrize(
    ("fibres", "share"),
    [
        ([("cotton", 100)], "0.02"),
        ([("linen", 100)], "0.02"),
        ([("wool", 100)], "0.03"),
        ([("silk", 100)], "0.03"),
        ([("cotton", 60), ("wool", 40)], "0.024"),
        ([("steel", 100)], "0.02"),
        ([], "0.02"),
    ],
)
def test_noise_is_two_in_a_hundred_and_three_of_animal_fibre(fibres, share):
    assert noise_share(fibres) == Fraction(share)


def test_two_divisions_of_the_scale_are_noise_on_a_small_cone():
    assert noise_mg(50 * G, COTTON, DIVISION_MG["g"]) == 2 * G
    assert noise_mg(50 * G, COTTON, DIVISION_MG["oz"]) == 5_670
    assert noise_mg(500 * G, COTTON, DIVISION_MG["g"]) == 10 * G
    assert noise_mg(500 * G, WOOL, DIVISION_MG["g"]) == 15 * G


@pytest.mark.parametrize(
    ("fibres", "net", "noise"),
    [
        (COTTON, 491, True),
        (COTTON, 490, False),
        (COTTON, 509, True),
        (COTTON, 510, False),
        (WOOL, 486, True),
        (WOOL, 485, False),
        (WOOL, 514, True),
        (WOOL, 515, False),
    ],
)
def test_only_a_difference_below_the_limit_is_noise(fibres, net, noise):
    assert weighed(500, net, fibres=fibres).is_noise is noise


def test_an_empty_cone_has_no_share_and_its_noise_is_the_scales():
    found = weighed(0, 1)
    assert found.share is None and found.is_noise
    assert not weighed(0, 2).is_noise


def test_no_difference_needs_no_reason():
    assert likely_reasons(weighed(500, 500, is_estimate=True)) == ()


def test_moisture_gives_the_range_in_which_the_same_yarn_weighs():
    """Cotton at 7 to 8.5 % of regain: 500 g weigh 493.1 g dry and 507.0 g damp."""
    (reason,) = likely_reasons(weighed(500, 495))
    assert reason.why == Why.MOISTURE
    assert (round(reason.low_mg), round(reason.high_mg)) == (493_088, 507_009)
    assert (reason.low, reason.high) == (Fraction(7, 100), Fraction(85, 1000))


def test_wool_swings_beyond_its_noise_and_moisture_is_still_told():
    """From 18.25 to 13.6 % a kilogram loses 39 g: more than 3 %, and still water."""
    found = weighed(1000, 965, fibres=WOOL, core=None)
    assert not found.is_noise
    assert whys(found) == [Why.MOISTURE]
    assert whys(weighed(1000, 955, fibres=WOOL, core=None)) == []


def test_noise_of_a_fibre_without_a_regain_is_told_without_figures():
    (reason,) = likely_reasons(weighed(500, 495, fibres=(("steel", 100),)))
    assert (reason.why, reason.low_mg) == (Why.MOISTURE, None)


def test_a_core_weighed_as_yarn():
    found = weighed(400, 432, gross=False)
    (reason,) = likely_reasons(found)
    assert (reason.why, reason.mass_mg) == (Why.CORE_LEFT_ON, 32 * G)
    assert whys(weighed(400, 432)) == []


def test_a_core_taken_off_twice():
    found = Weighed(books_mg=400 * G, scale_mg=400 * G, net_mg=368 * G, is_gross=True, core_mg=32 * G)
    assert whys(found) == [Why.CORE_OFF_TWICE]


def test_an_unknown_core_is_no_reason():
    assert whys(weighed(400, 432, gross=False, core=None)) == []


def test_yarn_that_is_put_aside_was_used_already():
    found = weighed(500, 290)
    (reason,) = likely_reasons(found, held=[Held("Lantern mats", 207 * G), Held("Towels", 90 * G)])
    assert (reason.why, reason.name, reason.mass_mg) == (Why.USED, "Lantern mats", 207 * G)


def test_two_that_are_put_aside_were_used_together():
    found = weighed(500, 203)
    (reason,) = likely_reasons(found, held=[Held("Lantern mats", 207 * G), Held("Towels", 90 * G)])
    assert (reason.name, reason.mass_mg) == ("Lantern mats and Towels", 297 * G)


def test_ounces_typed_as_grams():
    """17.6 oz are 499 g."""
    found = Weighed(books_mg=499 * G, scale_mg=17_600, net_mg=17_600, is_gross=False, fibres=COTTON)
    (reason,) = likely_reasons(found)
    assert reason.why == Why.OUNCES
    assert round(reason.mass_mg) == 498_952


def test_whole_ounces_typed_as_grams():
    """18 oz are 510 g: as near as whole ounces come to 499 g."""
    found = Weighed(books_mg=499 * G, scale_mg=18 * G, net_mg=18 * G, is_gross=False, fibres=COTTON)
    assert whys(found) == [Why.OUNCES]


def test_grams_typed_as_ounces():
    found = Weighed(books_mg=499 * G, scale_mg=14_146_000, net_mg=14_146_000, is_gross=False)
    assert whys(found) == [Why.GRAMS]


def test_another_cone_of_the_place_was_on_the_scale():
    others = [Neighbour("K-002", 302 * G, 32 * G), Neighbour("K-003", 300 * G, 32 * G), Neighbour("K-004", 9)]
    (reason,) = likely_reasons(weighed(500, 300), neighbours=others)
    assert (reason.why, reason.name) == (Why.OTHER_CONE, "K-003")


def test_a_neighbour_of_unknown_core_is_compared_by_yarn_alone():
    others = [Neighbour("K-002", 300 * G)]
    assert whys(weighed(500, 300), neighbours=others) == []
    assert whys(weighed(500, 300, gross=False), neighbours=others) == [Why.OTHER_CONE]


def test_an_estimate_says_that_it_is_one():
    assert whys(weighed(500, 300, is_estimate=True)) == [Why.ESTIMATE]


def test_noise_is_explained_by_nothing_else():
    """A core of 5 g is within the noise of 500 g: telling it apart would be guessing."""
    found = weighed(500, 505, gross=False, core=5)
    assert whys(found, held=[Held("Mats", 0)], neighbours=[Neighbour("K-002", 505 * G)]) == [Why.MOISTURE]


@pytest.mark.parametrize("field", ["books_mg", "scale_mg", "net_mg", "division_mg"])
def test_a_weight_below_nothing_is_refused(field):
    facts = {"books_mg": 1, "scale_mg": 1, "net_mg": 1, "is_gross": False} | {field: -1}
    with pytest.raises(CalcError) as refused:
        Weighed(**facts)
    assert refused.value.field == field


@given(
    books=st.integers(0, 2_000_000),
    net=st.integers(0, 2_000_000),
    core=st.integers(1, 110_000),
    aside=st.integers(1, 2_000_000),
    gross=st.booleans(),
)
def test_every_reason_that_is_told_would_explain_the_scale(books, net, core, aside, gross):
    """Put right by what the reason says, the books and the scale agree but for noise."""
    found = Weighed(
        books_mg=books,
        scale_mg=net + core if gross else net,
        net_mg=net,
        is_gross=gross,
        core_mg=core,
        fibres=COTTON,
    )
    for reason in likely_reasons(found, held=[Held("Mats", aside)]):
        expected = {
            Why.MOISTURE: books,
            Why.CORE_LEFT_ON: books + core,
            Why.CORE_OFF_TWICE: books - core,
            Why.USED: books - aside,
        }.get(reason.why)
        if expected is not None:
            assert abs(net - expected) < max(noise_mg(expected, COTTON, G), Fraction(expected) / 50 + G)
