"""How sure the yarn is to suffice, against draws at random, laws, and cases that can be reckoned by hand."""

from dataclasses import replace
from fractions import Fraction
from math import exp, floor
from random import Random
from statistics import NormalDist

import pytest

from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.packing import ConeStock, Need, propose
from stash.calc.sureness import Doubt, Doubts, LotAsk, Part, SureCone, asks_of, odds, sureness, whole_shares
from stash.calc.verdict import Verdict, judge

GRIST = Grist(1_000, 1)  # 1 mm to the mg: 1 m to the g
METRE = 1_000_000
WARP = 10 * METRE
SURE = Doubts(0, 0, 0)
USUAL = Doubts(0.02, 0.01, 0.05)


def grams(value: float) -> int:
    return round(value * 1_000)


def lot(*cones: SureCone, ends: int = 0, weft_m: int = 0) -> LotAsk:
    return LotAsk(cones, ends, Fraction(weft_m * METRE))


def chance(asks: list[LotAsk], doubts: Doubts = USUAL, keep_back: int = 0) -> float:
    return sureness(asks, WARP, keep_back, GRIST, doubts).chance


def drawn(asks: list[LotAsk], doubts: Doubts, keep_back: int = 0, draws: int = 12_000) -> float:
    """The same by draws at random: the definition of the module, written down once more as plainly as may be."""
    random, good = Random(1958), 0
    for _ in range(draws):
        count = exp(random.gauss(0, doubts.count))
        warp = WARP * exp(random.gauss(0, doubts.take_up)) * doubts.taken
        picks = exp(random.gauss(0, doubts.picks)) * doubts.taken
        serves, capable = True, 0
        for ask in asks:
            lengths = []
            for cone in ask.cones:
                true_mg = cone.free_mg + random.gauss(0, cone.scale_mg) + random.gauss(0, cone.core_mg)
                lengths.append(max(0.0, true_mg) * 1_000 * count)
            left = sum(lengths) - float(ask.weft_um) * picks
            serves = serves and left >= 0
            if ask.ends:
                ends = sum(max(0, floor(length / warp) - keep_back) for length in lengths)
                capable += min(ends, floor(left / warp))
        serves = serves and capable >= sum(ask.ends for ask in asks)
        good += serves
    return good / draws


CASES = {
    "one cone of warp": ([lot(SureCone(grams(515), 300), ends=50)], USUAL, 0),
    "one cone of weft": ([lot(SureCone(grams(530), 300, 3_000), weft_m=500)], USUAL, 0),
    "warp and weft of one cone": ([lot(SureCone(grams(820), 300, 5_000), ends=50, weft_m=300)], USUAL, 0),
    "five cones, ends cut whole": (
        [lot(*(SureCone(grams(size), 300, 3_000) for size in (104, 97, 58, 151, 126)), ends=51)],
        USUAL,
        0,
    ),
    "guessed cones": ([lot(*(SureCone(grams(110), 11_000) for _ in range(4)), ends=40)], USUAL, 0),
    "kept back for knots": ([lot(SureCone(grams(290), 300), SureCone(grams(310), 300), ends=55)], USUAL, 2),
    "warp of one lot and weft of another": (
        [lot(SureCone(grams(512), 300), ends=50), lot(SureCone(grams(315), 300, 4_000), weft_m=300)],
        USUAL,
        0,
    ),
    "three lots of both": (
        [
            lot(SureCone(grams(250), 300, 2_000), SureCone(grams(170), 300), ends=20, weft_m=200),
            lot(SureCone(grams(312), 3_000), ends=30),
            lot(SureCone(grams(108), 300), weft_m=100),
        ],
        USUAL,
        0,
    ),
    "a warp that mixes lots": (
        [
            lot(SureCone(grams(302), 300), ends=30),
            lot(SureCone(grams(214), 300, 3_000), ends=20),
        ],
        USUAL,
        0,
    ),
    "a warp that mixes lots, and weft of both": (
        [
            lot(SureCone(grams(505), 300), ends=30, weft_m=200),
            lot(SureCone(grams(235), 300), SureCone(grams(109), 300), ends=20, weft_m=120),
        ],
        USUAL,
        0,
    ),
    "mixed lots and only the count": (
        [lot(SureCone(grams(453)), ends=30, weft_m=140), lot(SureCone(grams(212)), ends=20)],
        Doubts(0.02, 0, 0),
        0,
    ),
    "records of this studio": (
        [lot(SureCone(grams(830), 300, 2_000), ends=50, weft_m=300)],
        Doubts(0.04, 0.01, 0, taken=1.02),
        0,
    ),
    "only the picks": ([lot(SureCone(grams(810)), ends=50, weft_m=300)], Doubts(0, 0, 0.05), 0),
    "only the count": (
        [lot(SureCone(grams(403)), SureCone(grams(407)), ends=50, weft_m=300)],
        Doubts(0.02, 0, 0),
        0,
    ),
    "only the scale": ([lot(SureCone(grams(501), 1_000), SureCone(grams(302), 1_000), ends=80)], SURE, 0),
}


@pytest.mark.parametrize("asks, doubts, keep_back", CASES.values(), ids=CASES)
def test_agrees_with_draws_at_random(asks, doubts, keep_back):
    # Of 12,000 draws one standard error is at most 0.0046.
    assert chance(asks, doubts, keep_back) == pytest.approx(drawn(asks, doubts, keep_back), abs=0.014)


def test_a_single_cone_of_warp_is_the_tail_of_the_normal_law():
    # 50 whole ends of a cone of 515 m: the count may be less by ln(515 / 500) = 2.956 %, at 2 % and 1 % unsure.
    ask = [lot(SureCone(grams(515)), ends=50)]
    expected = NormalDist().cdf(0.029558802241544 / (0.02**2 + 0.01**2) ** 0.5)
    assert chance(ask) == pytest.approx(expected, abs=1e-9)


def test_a_single_cone_of_weft_is_the_tail_of_the_normal_law():
    ask = [lot(SureCone(grams(530)), weft_m=500)]
    expected = NormalDist().cdf(0.058268908123976 / (0.02**2 + 0.05**2) ** 0.5)
    assert chance(ask) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("free, ends, expected", [(500, 50, 1.0), (499.999, 50, 0.0), (500, 51, 0.0)])
def test_without_any_doubt_it_is_yes_or_no(free, ends, expected):
    assert chance([lot(SureCone(grams(free) - (free < 500)), ends=ends)], SURE) == expected


def test_no_cone_is_no_chance():
    assert chance([]) == 0
    assert chance([lot(SureCone(0, 300), ends=3)]) == 0


def test_more_yarn_is_never_less_sure():
    before = 0.0
    for size in range(90, 130, 2):
        cones = [SureCone(grams(size + extra), 300, 3_000) for extra in (0, 5, 11)]
        found = chance([lot(*cones, ends=24, weft_m=70)])
        assert found >= before - 1e-3
        before = found
    assert before > 0.98


def test_a_further_cone_of_the_lot_helps_out():
    one = [lot(SureCone(grams(505), 300), ends=50)]
    two = [lot(SureCone(grams(505), 300), SureCone(grams(40), 300), ends=50)]
    assert chance(two) > chance(one) + 0.2


def test_where_lots_are_mixed_already_one_helps_the_other_out():
    # Of 50 ends the first lot can just give 30; the second has 30 where 20 are asked of it.
    mixed = [lot(SureCone(grams(300), 300), ends=30), lot(SureCone(grams(305), 300), ends=20)]
    assert chance(mixed) > 0.99
    alone = [lot(SureCone(grams(300), 300), ends=30)]
    assert chance(alone) < 0.6


def test_a_rest_too_short_for_an_end_is_no_help_to_the_warp():
    one = [lot(SureCone(grams(505), 300), ends=50)]
    rest = [lot(SureCone(grams(505), 300), SureCone(grams(4), 0), ends=50)]
    assert chance(rest) == pytest.approx(chance(one), abs=0.01)


def test_more_doubt_is_less_sure_where_there_is_enough():
    ask = [lot(SureCone(grams(840), 300), ends=50, weft_m=300)]
    assert chance(ask, Doubts(0.01, 0.01, 0.02)) > chance(ask, Doubts(0.03, 0.02, 0.08))


def test_the_parts_add_up():
    found = sureness(CASES["three lots of both"][0], WARP, 0, GRIST, USUAL)
    assert {part.doubt for part in found.parts} == set(Doubt)
    assert sum(part.share for part in found.parts) == pytest.approx(1)
    assert found.spread**2 == pytest.approx(sum(part.spread**2 for part in found.parts))
    assert [part.share for part in found.parts] == sorted((part.share for part in found.parts), reverse=True)


def test_a_doubt_of_the_weft_weighs_by_the_weft():
    # 500 m of warp and 300 m of weft: the picks' 5 % are 300 / 800 of it on the whole need.
    found = sureness(CASES["warp and weft of one cone"][0], WARP, 0, GRIST, USUAL)
    spread = {part.doubt: part.spread for part in found.parts}
    assert spread[Doubt.PICKS] == pytest.approx(0.05 * 300 / 800)
    assert spread[Doubt.TAKE_UP] == pytest.approx(0.01 * 500 / 800)
    assert spread[Doubt.CORE] == pytest.approx(5 / 800)


def need(ends: int, piece_m: int = 0, **facts) -> Need:
    return Need("A", ends, ends + 5, piece_m * METRE, piece_m * METRE * 11 // 10, 0, 0, **facts)


def stock(*sizes: float, lots: tuple[int | None, ...] = ()) -> list[ConeStock]:
    return [
        ConeStock(number, lots[number - 1] if lots else 1, grams(size))
        for number, size in enumerate(sizes, start=1)
    ]


@pytest.mark.parametrize(
    "asked, cones",
    [
        (need(50), stock(500)),
        (need(50), stock(499.99)),
        (need(50), stock(300, 255, lots=(1, 2))),
        (need(50), stock(300, 245, lots=(1, 2))),
        (need(30, 40), stock(310, 95, 70, lots=(1, 2, 3))),
        (need(30, 40), stock(310, 75, 70, lots=(1, 2, 3))),
        (need(30, 40), stock(700)),
        (need(0, 40), stock(10, 111)),
        (need(3), []),
        (need(30, 40, wish="lot", wish_lot_id=2), stock(900, 400, lots=(1, 2))),
    ],
)
def test_without_any_doubt_it_agrees_with_the_verdict(asked, cones):
    verdict = judge(asked, WARP, 3, 0, GRIST, cones)
    asks = asks_of(verdict.proposal, asked, WARP, 3, GRIST, cones, {})
    expected = 0.0 if verdict.state == Verdict.SHORT else 1.0
    assert sureness(asks, WARP, 0, GRIST, SURE).chance == expected


def test_without_any_doubt_it_agrees_with_the_verdict_on_many_shelves():
    random = Random(1913)
    for _ in range(700):
        cones = [
            ConeStock(number, random.choice([1, 2, 3, None]), grams(random.randint(0, 260)))
            for number in range(1, random.randint(2, 6))
        ]
        weft, sample = random.choice([0, random.randint(5, 60)]), random.choice([0, 0, random.randint(1, 30)])
        ends, keep_back = random.randint(0, 40), random.choice([0, 0, 1])
        asked = Need(
            "A",
            ends,
            ends + 2,
            weft * METRE,
            weft * METRE * 11 // 10,
            sample * METRE,
            sample * METRE * 11 // 10,
        )
        verdict = judge(asked, WARP, 3, keep_back, GRIST, cones)
        asks = asks_of(verdict.proposal, asked, WARP, 3, GRIST, cones, {})
        found = sureness(asks, WARP, keep_back, GRIST, SURE).chance
        if verdict.state != Verdict.SHORT:
            assert found == 1 or not asked.weft_um(3) + ends
        elif not verdict.lots_mixed:
            assert found == 0


def test_only_cones_of_the_lots_that_are_proposed_help_out():
    cones = stock(505, 900, 60, lots=(1, 2, 1))
    asked = Need("A", 50, 50, 0, 0, 0, 0)
    asks = asks_of(propose(asked, WARP, 1, 0, GRIST, cones), asked, WARP, 1, GRIST, cones, {1: (5.0, 2.0)})
    (one,) = asks
    assert [cone.free_mg for cone in one.cones] == [grams(505), grams(60)]
    assert one.cones[0] == SureCone(grams(505), 5.0, 2.0)


def test_the_buffer_is_not_asked_for():
    asked = need(50, 40)
    cones = stock(2000)
    (one,) = asks_of(propose(asked, WARP, 3, 0, GRIST, cones), asked, WARP, 3, GRIST, cones, {})
    assert (one.ends, one.weft_um) == (50, 120 * METRE)


@pytest.mark.parametrize("field", ["count", "take_up", "picks", "taken"])
def test_a_doubt_that_is_no_share_is_refused(field):
    with pytest.raises(CalcError) as caught:
        replace(USUAL, **{field: -0.1})
    assert caught.value.field == field


@pytest.mark.parametrize(
    "figure, words",
    [
        (1.0, "99 in 100"),
        (0.99, "99 in 100"),
        (0.9899, "19 in 20"),
        (0.9851, "19 in 20"),
        (0.93, "9 in 10"),
        (0.89, "3 in 4"),
        (0.70, "2 in 3"),
        (0.50, "even"),
        (0.497, "less than even"),
        (0.40, "less than even"),
        (0.0, "less than even"),
    ],
)
def test_a_chance_is_said_on_a_small_scale_and_never_as_certain(figure, words):
    assert odds(figure) == words


def test_shares_in_hundredths_add_up_to_100():
    parts = [Part(doubt, 0.01, share) for doubt, share in zip(Doubt, (1 / 3, 1 / 3, 1 / 3), strict=False)]
    assert whole_shares(parts) == [34, 33, 33]
    assert whole_shares([]) == []
