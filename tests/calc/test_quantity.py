"""What people type, and what must come of it."""

from __future__ import annotations

import time
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.quantity import (
    Amount,
    read_amount,
    read_density,
    read_grist,
    read_length,
    read_mass,
    read_percent,
    read_whole,
)

pytestmark = pytest.mark.once

IN = 25_400
YD = 914_400
READERS: list[Callable[[str], object]] = [
    read_length,
    read_mass,
    read_amount,
    read_density,
    read_percent,
    read_whole,
    read_grist,
]
LB_MG = Fraction("453592.37")
OZ_MG = LB_MG / 16


def refused(reader: Callable[..., object], text: str, **limits: object) -> CalcError:
    with pytest.raises(CalcError) as caught:
        reader(text, **limits)
    assert caught.value.field == ""
    return caught.value


def half_up(value: Fraction) -> int:
    return int(value + Fraction(1, 2))


# --- each line that a general parser reads wrongly without a word ---


def test_one_and_a_half_yards() -> None:
    assert read_length("1 1/2 yd") == YD * 3 // 2


def test_a_decimal_comma() -> None:
    assert read_length("2,5 m") == 2_500_000


def test_thousands_with_a_space() -> None:
    assert read_mass("1 000 g") == 1_000_000


def test_two_pounds_three_are_two_pounds_three_ounces() -> None:
    assert read_mass("2 lb 3") == half_up(35 * OZ_MG)


def test_two_pounds_three_ounces() -> None:
    assert read_mass("2 lb 3 oz") == half_up(35 * OZ_MG)


def test_gr_is_refused_with_a_question() -> None:
    error = refused(read_mass, "450 gr")
    assert "grams or as grains" in error.message
    assert error.position == 5


def test_a_true_minus_is_refused_not_dropped() -> None:
    error = refused(read_mass, "−450 g")
    assert "less than nothing" in error.message
    assert error.position == 1


def test_1_234_is_refused_with_a_question() -> None:
    error = refused(read_length, "1,234 yd")
    assert "1234 or as 1.234" in error.message


def test_3_360_yards_per_pound_is_refused_with_a_question() -> None:
    assert "3360 or as 3.360" in refused(read_grist, "3,360 yd/lb").message


# --- lengths ---


@pytest.mark.parametrize(
    ("text", "um"),
    [
        ("40", 40 * IN),
        ("36 in", 36 * IN),
        ("36 IN", 36 * IN),
        ("36in.", 36 * IN),
        ("36 inches", 36 * IN),
        ('36"', 36 * IN),
        ("36″", 36 * IN),
        ("36''", 36 * IN),
        ("5' 3\"", 63 * IN),
        ("5′ 3″", 63 * IN),
        ("5’3”", 63 * IN),
        ("5' 3", 63 * IN),
        ("5 ft 3", 63 * IN),
        ("1 yd 4 1/2 in", YD + 9 * IN // 2),
        ("1 yd 2 ft 3 in", YD + 27 * IN),
        ("1 1/2", 3 * IN // 2),
        ("1-1/2 in", 3 * IN // 2),
        ("3/8 in", 9_525),
        ("3⁄8 in", 9_525),
        ("½", 12_700),
        ("1½ in", 38_100),
        ("1 ⅛ in", 28_575),
        ("¾ yd", 685_800),
        (".5 in", 12_700),
        ("1.2 m", 1_200_000),
        ("1,2 m", 1_200_000),
        ("120 cm", 1_200_000),
        ("2 m 30 cm", 2_300_000),
        ("7 mm", 7_000),
        ("0,125 in", 3_175),
        ("1234,5 m", 1_234_500_000),
        ("1 000 000 mm", 1_000_000_000),
        ("1\u00a0000\u202fmm", 1_000_000),
        ("0", 0),
        ("  7  ", 7 * IN),
        ("0.0000197 in", 1),
        ("10000 km", 10**13),
    ],
)
def test_a_length_is_read_to_whole_micrometres(text: str, um: int) -> None:
    assert read_length(text) == um


@pytest.mark.parametrize(("unit", "um"), [("in", IN), ("cm", 10_000), ("yd", YD), ("m", 1_000_000)])
def test_a_bare_number_is_in_the_unit_of_the_field(unit: str, um: int) -> None:
    assert read_length("10", unit) == 10 * um


@pytest.mark.parametrize(
    ("text", "mg"),
    [
        ("450 g", 450_000),
        ("450", 450_000),
        ("0.45 kg", 450_000),
        ("1 kg 250 g", 1_250_000),
        ("6.75 g", 6_750),
        ("500 mg", 500),
        ("1 lb", 453_592),
        ("3 oz", 85_049),
        ("1/2 lb", half_up(LB_MG / 2)),
        ("2 lbs. 3 1/2 ozs.", half_up(Fraction(71, 2) * OZ_MG)),
        ("7 lb 14 2/3 oz", half_up(Fraction(380, 3) * OZ_MG)),
        ("25 grains", half_up(25 * LB_MG / 7000)),
    ],
)
def test_a_mass_is_read_to_whole_milligrams(text: str, mg: int) -> None:
    assert read_mass(text) == mg


def test_it_is_rounded_once_and_half_up() -> None:
    assert read_length("0.3125 in") == 7_938  # 7937.5 um
    assert read_length("0.3125 in 0.0005 mm", "in") == 7_938  # 7938.0 um, not 7938 + 1


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Nothing was typed"),
        ("   ", "Nothing was typed"),
        ("12 parsecs", "“parsecs”"),
        ("12 g", "is a weight"),
        ("yd", "cannot be read as a number"),
        ("2 yd 4", "“4” of what"),
        ("2 m 30", "“30” of what"),
        ("5 ft 14", "“14” of what"),
        ("5 ft 1/2", "“1/2” of what"),
        ("4 in 1 yd", "larger unit stands first"),
        ("4 in 5 in", "larger unit stands first"),
        ("1 00 yd", "Two numbers"),
        ("1000 000 yd", "Two numbers"),
        ("1 1/2 1/2", "Two numbers"),
        ("1.5 1/2", "Two numbers"),
        ("1 5/4 in", "more than one way"),
        ("1,234.5", "more than one comma or point"),
        ("1.234.567", "more than one comma or point"),
        ("1/0 in", "0 below the line"),
        ("1/2/3 in", "cannot be read here"),
        ("-5", "less than nothing"),
        ("5 yd - 3 in", "less than nothing"),
        ("10-12", "range"),
        ("10–12 in", "range"),
        ("+5", "cannot be read as a number"),
        ("10 in,", "cannot be read here"),
        ("10000 km 1 mm", "at most 10,000 km"),
        ("0.00001 in", "too little"),
        ("١٢ in", "cannot be read as a number"),
        ("1２ in", "cannot be read here"),
        ("12\u200bin", "U+200B"),
        ("12\x00in", "U+0000"),
        ("NaN", "cannot be read as a number"),
        ("inf", "cannot be read as a number"),
        ("1e5", "“e”"),
        ("9**9**9", "“*”"),
        ("0x10", "“x”"),
        ("10 in; drop", "“;”"),
    ],
)
def test_what_cannot_be_read_is_refused_and_said(text: str, says: str) -> None:
    assert says in refused(read_length, text).message


def test_an_unknown_unit_is_named_with_what_is_accepted() -> None:
    error = refused(read_length, "12 ells")
    assert error.message == "“ells” is not a unit that is read here. Accepted: in, ft, yd, mm, cm, m or km."
    assert error.position == 4


def test_a_weight_in_a_length_field_is_told_apart() -> None:
    error = refused(read_length, "450 g")
    assert "“g” is a weight; a length is needed" in error.message


@pytest.mark.parametrize("text", ["10000.000001 kg", "99999999999999999999999999999999 lb"])
def test_an_absurd_mass_is_refused(text: str) -> None:
    assert "at most 10,000 kg" in refused(read_mass, text).message


def test_limits_of_the_field_are_held_and_said() -> None:
    assert "more than 0" in refused(read_length, "0", least=1).message
    assert "at least 10 cm" in refused(read_length, "3 in", least=100_000).message
    assert "at most 2 m" in refused(read_length, "3 yd", most=2_000_000).message


@pytest.mark.parametrize("reader", READERS)
def test_forty_characters_are_read_and_one_more_is_not(reader: Callable[[str], object]) -> None:
    assert "40 characters" in refused(reader, "1" * 41).message
    assert "40 characters" not in refused(reader, "q" * 40).message


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize(
    "text", ["9**9**9", "a" * 100_000, "1" * 100_000, " " * 100_000, "1/" * 20, "1 " * 20, "½" * 40]
)
def test_hostile_text_is_refused_at_once(reader: Callable[[str], object], text: str) -> None:
    reader_warm_up(reader)
    start = time.perf_counter()
    refused(reader, text)
    assert time.perf_counter() - start < 0.05


def reader_warm_up(reader: Callable[[str], object]) -> None:
    """Have the registry built: that second is not the text's doing."""
    reader("12")


# --- either kind ---


def test_an_amount_is_a_mass_or_a_length() -> None:
    assert read_amount("450") == Amount("mass", 450_000)
    assert read_amount("500 yd") == Amount("length", 500 * YD)
    assert read_amount("500", "yd") == Amount("length", 500 * YD)
    assert read_amount("2 lb 3 oz") == Amount("mass", half_up(35 * OZ_MG))


def test_an_amount_turns_into_the_other_kind_by_the_grist() -> None:
    grist = Grist.from_yd_per_lb(3360)
    assert read_amount("3360 yd").mass_mg(grist) == LB_MG
    assert read_amount("1 kg").length_um(grist) == 1_000_000 * grist.um_per_mg
    assert read_amount("1 kg").mass_mg(grist) == 1_000_000
    assert read_amount("2 yd").length_um(grist) == 2 * YD


def test_a_length_and_a_weight_do_not_add_up() -> None:
    assert "cannot be added" in refused(read_amount, "1 yd 3 oz").message


def test_an_amount_in_an_unknown_unit_lists_both_kinds() -> None:
    message = refused(read_amount, "5 ells").message
    assert "yd" in message and "oz" in message


# --- densities ---


@pytest.mark.parametrize(
    ("text", "count", "per_um"),
    [
        ("18", "18", IN),
        ("18 epi", "18", IN),
        ("18 EPI", "18", IN),
        ("18 ppi", "18", IN),
        ("18 per in", "18", IN),
        ("18 per inch", "18", IN),
        ("18/in", "18", IN),
        ('18 / 1"', "18", IN),
        ("18 ends per inch", "18", IN),
        ("14 picks/in", "14", IN),
        ("7 per cm", "7", 10_000),
        ("7/cm", "7", 10_000),
        ("7.5 ends per cm", "7.5", 10_000),
        ("7,5 per cm", "7.5", 10_000),
        ("70 / 10 cm", "70", 100_000),
        ("70/10 cm", "70", 100_000),
        ("70 per 10 cm", "70", 100_000),
        ("6 2/3", "20/3", IN),
        ("15 1/2 epi", "15.5", IN),
        ("60 per 2 in", "60", 2 * IN),
    ],
)
def test_a_density_keeps_the_base_that_was_typed(text: str, count: str, per_um: int) -> None:
    assert read_density(text) == Density(Fraction(count), per_um)


@pytest.mark.parametrize(("base", "per_um"), [("in", IN), ("cm", 10_000), ("10 cm", 100_000)])
def test_a_bare_density_is_to_the_base_of_the_field(base: str, per_um: int) -> None:
    assert read_density("40", base) == Density(Fraction(40), per_um)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Nothing was typed"),
        ("0", "more than 0"),
        ("-18", "less than nothing"),
        ("70/10", "or as a fraction"),
        ("18 ends", "To what length"),
        ("18 yd", "“yd”"),
        ("18 per", "length is missing"),
        ("18 per yd", "“yd”"),
        ("18 per 0 cm", "1 to 100"),
        ("18 per 1.5 cm", "whole number"),
        ("18 epi 4", "cannot be read here"),
        ("3000", "closer than can be woven"),
        ("1 per 50 cm", "more open than can be woven"),
        ("18.123456", "four decimals"),
        ("1,234", "1234 or as 1.234"),
    ],
)
def test_a_density_that_cannot_be_meant_is_refused(text: str, says: str) -> None:
    assert says in refused(read_density, text).message


# --- percentages and whole numbers ---


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("12.5 %", "1/8"),
        ("12,5%", "1/8"),
        ("12.5", "1/8"),
        ("12 1/2", "1/8"),
        ("9", "9/100"),
        ("9 percent", "9/100"),
        ("9 per cent", "9/100"),
        ("0", "0"),
        ("0.5 %", "1/200"),
        ("½ %", "1/200"),
        ("99.9", "999/1000"),
    ],
)
def test_a_percentage_is_an_exact_share(text: str, share: str) -> None:
    assert read_percent(text) == Fraction(share)


def test_a_bare_number_below_one_is_asked_about() -> None:
    assert "0.1 % or as a share, 10 %" in refused(read_percent, "0.1").message


def test_limits_of_a_percentage_can_be_set() -> None:
    assert "less than 100 %" in refused(read_percent, "100").message
    assert read_percent("150", below=None) == Fraction(3, 2)
    assert read_percent("100", below=None, most=Fraction(1)) == 1
    assert "at most 100 %" in refused(read_percent, "101", below=None, most=Fraction(1)).message
    assert "at least 2.5 %" in refused(read_percent, "2", least=Fraction(1, 40)).message


@pytest.mark.parametrize("text", ["-1 %", "9 dogs", "9 % 3", "%", "12.123456789"])
def test_what_is_no_percentage_is_refused(text: str) -> None:
    refused(read_percent, text)


@pytest.mark.parametrize(
    ("text", "whole"), [("12", 12), ("12 pieces", 12), ("1 Piece", 1), ("1 000", 1000), ("12.0", 12)]
)
def test_a_whole_number_is_read(text: str, whole: int) -> None:
    assert read_whole(text) == whole


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1.5", "not whole"),
        ("1/2", "not whole"),
        ("0", "at least 1 towel"),
        ("51", "at most 50 towels"),
        ("3 mats", "“mats”"),
        ("-3", "less than nothing"),
    ],
)
def test_a_number_of_pieces_that_cannot_be_is_refused(text: str, says: str) -> None:
    assert says in refused(read_whole, text, least=1, most=50, one="towel", many="towels").message


# --- grist ---


@pytest.mark.parametrize(
    ("text", "um_per_mg"),
    [
        ("6773 m/kg", Fraction(6773)),
        ("6.77 m/g", Fraction(6770)),
        ("677 m/100 g", Fraction(6770)),
        ("677 m per 100 g", Fraction(6770)),
        ("100 g = 677 m", Fraction(6770)),
        ("50 g / 200 m", Fraction(4000)),
        ("148 g/km", Fraction(1_000_000, 148)),
        ("3360 yd/lb", 3360 * YD / LB_MG),
        ("3360", 3360 * YD / LB_MG),
        ("3 360 yds per lb", 3360 * YD / LB_MG),
        ("3360 ypp", 3360 * YD / LB_MG),
        ("210 yd/oz", 3360 * YD / LB_MG),
        ("50 yd weigh 6.75 g", Fraction(50 * YD, 6750)),
        ("50 yd = 6.75 g", Fraction(50 * YD, 6750)),
        ("120 yd weighs 1 oz", 120 * YD / OZ_MG),
    ],
)
def test_a_grist_is_read_exactly(text: str, um_per_mg: Fraction) -> None:
    assert read_grist(text).um_per_mg == um_per_mg


def test_a_bare_grist_is_in_the_unit_of_the_field() -> None:
    assert read_grist("6773", "m/kg") == read_grist("6773 m/kg")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("3360 yd", "other half is missing"),
        ("3360 yd/m", "Both sides are a length"),
        ("3360 /lb", "unit is missing"),
        ("3360 yd/", "unit is missing"),
        ("0 yd/lb", "can be 0"),
        ("50 yd = 0 g", "can be 0"),
        ("-50 yd = 6 g", "less than nothing"),
        ("3360 yd/lb 5", "cannot be read here"),
        ("1 km/mg", "as fine as that"),
        ("0.9 mm/g", "as heavy as that"),
        ("3.00000000000000000001 yd = 1 g", "more figures"),
        ("677 m/100 gr", "grams or as grains"),
    ],
)
def test_a_grist_that_cannot_be_is_refused(text: str, says: str) -> None:
    assert says in refused(read_grist, text).message


# --- any text at all ---

typed = st.text(max_size=45) | st.text(
    alphabet="0123456789 ./,-½¾'\"″%= yd in ft cm m kg g lb oz per epi weigh\u2212\u00a0٣\x00", max_size=40
)


@pytest.mark.parametrize("reader", READERS)
@given(text=typed)
def test_any_text_gives_a_value_or_a_clear_refusal(reader: Callable[[str], object], text: str) -> None:
    try:
        value = reader(text)
    except CalcError as error:
        assert error.message
        assert error.position is None or 1 <= error.position <= len(text) + 1
    else:
        assert value is not None


@given(text=typed)
def test_what_is_read_fits_a_database_integer(text: str) -> None:
    for reader in (read_length, read_mass):
        try:
            assert 0 <= reader(text) < 2**63
        except CalcError:
            continue
